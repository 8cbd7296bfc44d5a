//! What a recording's texts say that deserves a second look: told, never changed.
//!
//! Unknown keys and columns, notes that were written down twice, that contradict each other or
//! that lie outside the recording. Which burst a note belongs to is not asked here.

use std::collections::BTreeSet;

use super::notes::{Note, NoteTime};
use super::{Data, FlowColumn, LoadDefect, Recording, SampleTable};

/// How far outside the recording a note may lie before it is told, s. Two clocks are rarely further
/// apart than this unless one of them is wrong by hours or shows another day.
const OUTSIDE_S: f64 = 900.0;

/// Notes written to the second or finer can be the same note; coarser ones can be two bursts.
const SAME_NOTE_RESOLUTION_S: f64 = 1.0;

/// Adds to the recording's defects what its texts give reason to tell.
pub fn review(recording: &mut Recording) {
    let mut found = Vec::new();
    for (key, _) in &recording.settings.unknown_keys {
        found.push(defect(
            "unknown_key",
            format!("session.toml: key {key} is not known and was not read; it is kept; check its spelling and unit"),
        ));
    }
    if let Data::Samples(table) = &recording.data {
        review_samples(table, &mut found);
    }
    review_columns(&recording.notes, &mut found);
    review_pairs(&recording.notes, &mut found);
    review_times(recording, &mut found);
    recording.defects.append(&mut found);
}

/// What to tell when notes that a program added are no longer in `notes.csv`.
#[must_use]
pub fn notes_gone(gone: &[Note]) -> Option<LoadDefect> {
    let lines: Vec<String> = gone.iter().map(|note| note.line.to_string()).collect();
    let (noun, verb) = if gone.len() == 1 {
        ("note", "is")
    } else {
        ("notes", "are")
    };
    let message = format!(
        "{} {noun} that tipcurve added {verb} no longer in notes.csv; if a spreadsheet overwrote them, copy \
         them back from notes-added.csv (line {}), else nothing to do",
        gone.len(),
        lines.join(", ")
    );
    (!gone.is_empty()).then(|| defect("notes_gone", message))
}

fn review_samples(table: &SampleTable, found: &mut Vec<LoadDefect>) {
    for (name, _) in &table.extra {
        let is_second_flow = name == "flow_l_min" && matches!(table.flow, FlowColumn::Pulses(_));
        found.push(if is_second_flow {
            defect(
                "second_flow",
                "samples.csv: flow_pulses and flow_l_min are both given; the pulses were read, \
                 flow_l_min is kept"
                    .to_owned(),
            )
        } else {
            defect(
                "unknown_column",
                format!("samples.csv: column {name} is not known and was not read; it is kept; check its spelling and unit"),
            )
        });
    }
}

fn review_columns(notes: &[Note], found: &mut Vec<LoadDefect>) {
    let names: BTreeSet<&str> = notes
        .iter()
        .flat_map(|note| note.extra.iter().map(|(name, _)| name.as_str()))
        .collect();
    for name in names {
        found.push(defect(
            "unknown_column",
            format!("notes.csv: column {name} is not known and was not read; it is kept; check its spelling and unit"),
        ));
    }
}

/// Pairs of notes of the same second: the same cells twice, or different grades of one burst.
fn review_pairs(notes: &[Note], found: &mut Vec<LoadDefect>) {
    let mut fine: Vec<(f64, &Note)> = notes
        .iter()
        .filter_map(|note| Some((fine_time_s(&note.time)?, note)))
        .collect();
    fine.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in fine.windows(2) {
        let ((a_s, a), (b_s, b)) = (pair[0], pair[1]);
        let is_same_kind = std::mem::discriminant(&a.time) == std::mem::discriminant(&b.time);
        if !is_same_kind || b_s - a_s > 0.5 * SAME_NOTE_RESOLUTION_S {
            continue;
        }
        if is_same_but_line(a, b) {
            let message = format!(
                "notes.csv, line {}: the same as line {}; both are kept; delete one if it was noted twice",
                b.line, a.line
            );
            found.push(defect("duplicate_note", message));
        } else if let Some(column) = contradiction(a, b) {
            let message = format!(
                "notes.csv, line {}, column {column}: contradicts line {} of the same second; both are \
                 kept; correct the time or the cell",
                b.line, a.line
            );
            found.push(defect("contradictory_notes", message));
        }
    }
}

/// Seconds on the note's own clock, where it was written to the second or finer.
fn fine_time_s(time: &NoteTime) -> Option<f64> {
    match *time {
        NoteTime::Absolute {
            unix_s: s,
            resolution_s,
        }
        | NoteTime::Clock {
            since_midnight_s: s,
            resolution_s,
        } => (resolution_s <= SAME_NOTE_RESOLUTION_S).then_some(s),
        NoteTime::Logger { t_s } => Some(t_s),
        NoteTime::About { .. } | NoteTime::OrderedOnly => None,
    }
}

fn is_same_but_line(a: &Note, b: &Note) -> bool {
    let b = Note {
        line: a.line,
        ..b.clone()
    };
    *a == b
}

/// The first column in which two notes of one moment say different things.
fn contradiction(a: &Note, b: &Note) -> Option<&'static str> {
    fn differ<T: PartialEq>(a: Option<&T>, b: Option<&T>) -> bool {
        matches!((a, b), (Some(a), Some(b)) if a != b)
    }
    let columns = [
        ("tip", differ(a.tip.as_ref(), b.tip.as_ref())),
        ("material", differ(a.material.as_ref(), b.material.as_ref())),
        (
            "thinner_pct",
            differ(a.thinner_ratio.as_ref(), b.thinner_ratio.as_ref()),
        ),
        ("dial", differ(a.dial.as_ref(), b.dial.as_ref())),
        ("tails", differ(a.tails.as_ref(), b.tails.as_ref())),
        ("runs", differ(a.runs.as_ref(), b.runs.as_ref())),
    ];
    columns
        .into_iter()
        .find_map(|(name, differs)| differs.then_some(name))
}

/// Notes that lie outside the recording by more than clocks usually differ.
fn review_times(recording: &Recording, found: &mut Vec<LoadDefect>) {
    let Some((first_s, last_s)) = recording.data.range_s() else {
        return;
    };
    let start_unix_s = recording.started_unix_s();
    for note in &recording.notes {
        let t_s = match note.time {
            NoteTime::Logger { t_s } => Some(t_s),
            NoteTime::Absolute { unix_s, .. } => start_unix_s.map(|start| unix_s - start),
            _ => None,
        };
        let slack_s = if matches!(note.time, NoteTime::Logger { .. }) {
            0.0
        } else {
            OUTSIDE_S
        };
        let Some(t_s) = t_s.filter(|t| *t < first_s - slack_s || *t > last_s + slack_s) else {
            continue;
        };
        let message = format!(
            "notes.csv, line {}, column time: {t_s:.0} s of logger time, the recording runs from \
             {first_s:.0} to {last_s:.0} s; the note is kept and placed by its order; correct its time",
            note.line
        );
        found.push(defect("note_outside", message));
    }
}

fn defect(code: &str, message: String) -> LoadDefect {
    LoadDefect {
        code: code.to_owned(),
        range_s: None,
        message,
    }
}
