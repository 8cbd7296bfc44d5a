//! `class.toml`: who sprayed which recording of a class, and what the class is held against.
//!
//! A text that a teacher writes; [`template`] writes a first one with a comment on every key. Reading is all
//! or nothing, a fault names its line. An unknown key is refused: a mistyped `reference` would silently
//! change every score.

use serde::{Deserialize, Deserializer};

use super::fault::{Faults, Place, What};
use super::rows::{checked_utf8, line_of};

/// Name of the file in the class's folder.
pub const ROSTER: &str = "class.toml";
/// Name of the file that says which code stands for whom; never among what is handed out.
pub const BLIND_KEY: &str = "blind-key.csv";
/// The word for a reference made from the class itself.
pub const CONSENSUS: &str = "consensus";

/// A class as its teacher wrote it down.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Roster {
    /// What the class did, in the teacher's words.
    pub title: Option<String>,
    /// Tip that counts; without, the setting that most students sprayed.
    #[serde(default, deserialize_with = "label")]
    pub tip: Option<String>,
    /// Coating that counts.
    pub material: Option<String>,
    /// Folder of the recording to hold the class against; without, or `consensus`: the class itself.
    pub reference: Option<String>,
    /// Standard deviation that a good result has, in percent of flow; without, the class's own.
    pub expected_sd_pct: Option<f64>,
    /// Who sprayed what.
    #[serde(rename = "student", default)]
    pub students: Vec<Entry>,
}

/// A label with or without quotation marks: `number = 7` says the same as `number = "7"`.
fn label<'de, D: Deserializer<'de>>(value: D) -> Result<Option<String>, D::Error> {
    #[derive(Deserialize)]
    #[serde(untagged, expecting = "a text or a whole number is needed")]
    enum Label {
        Text(String),
        Number(i64),
    }
    Ok(Some(match Label::deserialize(value)? {
        Label::Text(text) => text,
        Label::Number(number) => number.to_string(),
    }))
}

/// One student with one recording.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Name.
    pub name: String,
    /// Number on the class list; needed where two students share a name.
    #[serde(default, deserialize_with = "label")]
    pub number: Option<String>,
    /// Folder of the recording, below the class's folder.
    pub recording: String,
    /// Bench, in the teacher's words.
    #[serde(default, deserialize_with = "label")]
    pub bench: Option<String>,
}

impl Roster {
    /// The recording that the class is held against, when one is named.
    #[must_use]
    pub fn named_reference(&self) -> Option<&str> {
        let name = self.reference.as_deref()?.trim();
        (!name.is_empty() && !name.eq_ignore_ascii_case(CONSENSUS)).then_some(name)
    }
}

/// Reads a whole `class.toml`.
///
/// # Errors
/// Text that is no TOML, an unknown or missing key, a wrong type, a number out of range, no student: with
/// its line.
pub fn read(bytes: &[u8]) -> Result<Roster, Faults> {
    let text = checked_utf8(bytes)?;
    let roster: Roster = toml::from_str(text).map_err(|e| {
        let line = line_of(text.as_bytes(), e.span().map_or(0, |s| s.start));
        let message = e.message().replace('\n', ", ");
        Faults::one(Place::Line(line), What::Roster { message })
    })?;
    if let Some(value) = roster.expected_sd_pct
        && !(value > 0.0 && value < 100.0)
    {
        let line = line_with(text, "expected_sd_pct");
        return Err(Faults::one(
            Place::Line(line),
            What::OutOfRange {
                value,
                low: 0.0,
                high: 100.0,
            },
        ));
    }
    if let Some((word, message)) = contradiction(&roster) {
        let place = word.map_or(Place::File, |w| Place::Line(line_with(text, w)));
        return Err(Faults::one(place, What::Roster { message }));
    }
    Ok(roster)
}

/// What a roster says that cannot be, with a word of the line that says it.
fn contradiction(roster: &Roster) -> Option<(Option<&str>, String)> {
    if roster.students.is_empty() {
        let message = "no [[student]] in it; write one block a recording";
        return Some((None, message.to_owned()));
    }
    for (i, entry) in roster.students.iter().enumerate() {
        let name = super::cells::clip(entry.name.trim());
        if name.is_empty() {
            let message = "a student without a name; write one, or a code".to_owned();
            return Some((Some(&entry.recording), message));
        }
        if leaves_folder(&entry.recording) {
            let folder = super::cells::clip(&entry.recording);
            let message = format!(
                "recording \"{folder}\" of {name} must be a folder below the one of this file"
            );
            return Some((Some(&entry.recording), message));
        }
        for other in &roster.students[..i] {
            if let Some(message) = clash(other, entry, &name) {
                return Some((Some(&entry.recording), message));
            }
        }
    }
    None
}

/// Why two blocks cannot both stand.
fn clash(first: &Entry, second: &Entry, name: &str) -> Option<String> {
    let is_same_name = first.name.trim().eq_ignore_ascii_case(second.name.trim());
    let (a, b) = (first.number(), second.number());
    if first.recording.trim() == second.recording.trim() {
        return Some(format!(
            "recording \"{}\" stands twice; a recording belongs to one student",
            super::cells::clip(&second.recording)
        ));
    }
    if is_same_name && (a.is_none() || b.is_none()) {
        return Some(format!(
            "two blocks are named {name} and not both have a number: give each student a number, or one \
             student's recordings the same one"
        ));
    }
    (!is_same_name && a.is_some() && a == b).then(|| {
        format!(
            "number {} stands for {} and for {name}; a number belongs to one student",
            super::cells::clip(a.unwrap_or_default()),
            super::cells::clip(first.name.trim())
        )
    })
}

impl Entry {
    /// Number on the class list, `None` when empty.
    #[must_use]
    pub fn number(&self) -> Option<&str> {
        self.number
            .as_deref()
            .map(str::trim)
            .filter(|n| !n.is_empty())
    }
}

/// True for a name that leads out of the class's folder, or nowhere.
fn leaves_folder(name: &str) -> bool {
    let path = std::path::Path::new(name.trim());
    let is_plain = |c: std::path::Component| matches!(c, std::path::Component::Normal(_));
    name.trim().is_empty() || !path.components().all(is_plain)
}

/// Line, from 1, of the first that holds a word.
fn line_with(text: &str, word: &str) -> usize {
    text.lines()
        .position(|l| l.contains(word))
        .map_or(1, |i| i + 1)
}

/// A roster to fill in, one block a recording.
#[must_use]
pub fn template(recordings: &[String]) -> String {
    let mut text = String::from(
        "# Roster of a class: who sprayed which recording. Lines that begin with # are comments; take the\n\
         # # away to use one.\n\n\
         # title = \"Tip 415 with cabin enamel: find the nozzle curve\"\n\n\
         # Tip and coating that count, as the notes name them. Without, what most students sprayed.\n\
         # tip = \"415\"\n\
         # material = \"cabin enamel\"\n\n\
         # What the class is held against: the folder of one recording, or \"consensus\" for the robust mean\n\
         # of the class's own curves (three curves or more).\n\
         reference = \"consensus\"\n\n\
         # Standard deviation of flow, in percent, that counts as good work. Without, the class's own\n\
         # scatter is the measure (five students or more).\n\
         # expected_sd_pct = 3.0\n\n\
         # One block a recording. number: from the class list, needed where two students share a name.\n\
         # One student with several recordings has several blocks with one number.\n",
    );
    let known = recordings.iter().map(String::as_str);
    let list: Vec<&str> = if recordings.is_empty() {
        vec!["bench-1"]
    } else {
        known.collect()
    };
    for (i, recording) in list.iter().enumerate() {
        let folder = toml::Value::String((*recording).to_owned());
        text.push_str(&format!(
            "\n[[student]]\nname = \"student {}\"\nnumber = \"{}\"\nrecording = {folder}\n# bench = \"1\"\n",
            i + 1,
            i + 1
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(text: &str, part: &str) {
        let faults = read(text.as_bytes()).unwrap_err();
        let said = super::super::fault::FileFaults {
            file: ROSTER.to_owned(),
            faults,
        }
        .to_string();
        assert!(said.contains(part), "{said}");
    }

    #[test]
    fn the_template_is_a_roster_as_it_stands_and_with_every_comment_opened() {
        let text = template(&["bench-1".to_owned(), "bench \"2\"".to_owned()]);
        let roster = read(text.as_bytes()).unwrap();
        assert_eq!(roster.students.len(), 2);
        assert_eq!(roster.students[1].recording, "bench \"2\"");
        assert_eq!(roster.named_reference(), None);
        let open: String = text
            .lines()
            .map(|line| match line.strip_prefix("# ") {
                Some(code) if code.contains(" = ") => code,
                _ => line,
            })
            .flat_map(|line| [line, "\n"])
            .collect();
        let roster = read(open.as_bytes()).unwrap();
        assert_eq!(roster.expected_sd_pct, Some(3.0));
        assert_eq!(roster.students[0].bench.as_deref(), Some("1"));
    }

    #[test]
    fn labels_may_be_written_as_numbers() {
        let text =
            "tip = 415\n[[student]]\nname = \"Alder\"\nnumber = 7\nrecording = \"a\"\nbench = 2\n";
        let roster = read(text.as_bytes()).unwrap();
        assert_eq!(roster.tip.as_deref(), Some("415"));
        let entry = &roster.students[0];
        assert_eq!(
            (entry.number(), entry.bench.as_deref()),
            (Some("7"), Some("2"))
        );
    }

    #[test]
    fn each_fault_of_a_roster_names_its_line() {
        refused("title = 3\n", "line 1");
        refused("title = \"a\"\nreferense = \"b\"\n", "line 2");
        refused("expected_sd_pct = -1.0\n", "line 1: -1 is outside 0 to 100");
        refused("title = \"a\"\n", "no [[student]]");
        refused(
            "[[student]]\nname = \"A\"\nrecording = \"../elsewhere\"\n",
            "line 3",
        );
        refused("[[student]]\nname = \"A\"\n", "recording");
    }

    #[test]
    fn two_of_one_name_need_their_numbers() {
        let pair = |first: &str, second: &str| {
            format!(
                "[[student]]\nname = \"Ada\"\nrecording = \"b1\"\n{first}\n\
                 [[student]]\nname = \"ada\"\nrecording = \"b2\"\n{second}\n"
            )
        };
        refused(&pair("", ""), "line 7: two blocks are named ada");
        refused(&pair("number = \"1\"", ""), "not both have a number");
        assert!(read(pair("number = \"1\"", "number = \"2\"").as_bytes()).is_ok());
        assert!(read(pair("number = \"1\"", "number = \"1\"").as_bytes()).is_ok());
        refused(
            "[[student]]\nname = \"A\"\nnumber = \"1\"\nrecording = \"b1\"\n\
             [[student]]\nname = \"B\"\nnumber = \"1\"\nrecording = \"b2\"\n",
            "number 1 stands for A and for B",
        );
        refused(
            "[[student]]\nname = \"A\"\nrecording = \"b1\"\n\
             [[student]]\nname = \"B\"\nrecording = \"b1\"\n",
            "stands twice",
        );
    }

    #[test]
    fn a_named_reference_is_told_from_the_consensus() {
        let of = |text: &str| Roster {
            reference: Some(text.to_owned()),
            ..Roster::default()
        };
        assert_eq!(of(" Consensus ").named_reference(), None);
        assert_eq!(of("teacher").named_reference(), Some("teacher"));
    }
}
