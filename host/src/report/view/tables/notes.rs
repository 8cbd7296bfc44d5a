//! Table of notes and how they were matched to bursts.

use super::nothing;
use crate::findings::Findings;
use crate::recording::notes::{KnownEvent, Note, NoteTime};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, link, quoted, say};
use crate::report::view::table::{Row, Table, numbers, words};
use crate::report::wording::{count, note_time, tail_grade};

/// One row a note.
pub(super) fn notes(f: &Findings, show: Show) -> Table {
    Table {
        id: "notes",
        title: "Notes and the bursts they describe",
        caption: caption(f, show),
        columns: vec![
            numbers("Note", ""),
            words("Written"),
            words("Says"),
            words("Burst"),
            numbers("Logger time", "s"),
            words("Other reading"),
        ],
        rows: f
            .notes
            .iter()
            .enumerate()
            .map(|(i, n)| row(f, show, i, n))
            .collect(),
    }
}

fn caption(f: &Findings, show: Show) -> Sentence {
    let mut out = Sentence::from(
        "Notes are matched to bursts in their order, at the least cost; a note whose runner-up is close and leads \
         elsewhere is not used.",
    );
    if let Some(offset) = clock(f, show) {
        out.push(offset);
    }
    out
}

/// What lining up found of the clock that the notes were written by; nothing where no clock time is on a burst.
fn clock(f: &Findings, show: Show) -> Option<Sentence> {
    let a = &f.alignment;
    let has_clock = |i: usize| {
        let time = f.notes.get(i).map(|n| &n.time);
        !matches!(
            time,
            None | Some(NoteTime::Logger { .. } | NoteTime::OrderedOnly)
        )
    };
    let mut on_bursts = a.matches.iter().filter(|m| m.burst_index.is_some());
    on_bursts.find(|m| has_clock(m.note_index))?;
    let (offset_s, expanded_s) = (a.clock_offset_s?, 2.0 * a.u_clock_offset_s?);
    let expanded = (
        expanded_s,
        "/alignment/expanded_95_clock_offset_s".to_owned(),
    );
    Some(if a.is_start_known {
        let offset = (offset_s, "/alignment/clock_offset_s".to_owned());
        say![
            " To their clock times ",
            show.plus_minus(Kind::Time, offset, expanded),
            " is added."
        ]
    } else {
        // The offset itself counts from a moment that no reader knows.
        say![
            " The recording does not say when it began: where their clock times lie on it was found, to \u{b1}\u{a0}",
            show.rounded(Kind::Time, expanded.0, expanded.0, expanded.1),
            "."
        ]
    })
}

fn row(f: &Findings, show: Show, i: usize, n: &Note) -> Row {
    let m = f.alignment.matches.iter().find(|m| m.note_index == i);
    #[allow(clippy::cast_precision_loss)]
    let number = (i + 1) as f64;
    let key = |member: &str| format!("/notes/{i}/{member}");
    let is_ambiguous = m.is_some_and(|m| m.is_ambiguous);
    let burst = m.and_then(|m| m.burst_index);
    let other = m.and_then(|m| m.other_burst_index);
    let to_burst = |b: usize, member: &str| -> Sentence {
        let words = say!["burst ", count(show, b + 1, key(member))];
        link(words, format!("burst-{}", b + 1)).into()
    };
    Row {
        id: format!("note-{}", i + 1),
        is_quiet: burst.is_none(),
        cells: vec![
            show.fixed(Kind::Count, number, 0, key("number")),
            quoted(&note_time(&n.time)).into(),
            says(n),
            match (burst, is_ambiguous) {
                (Some(b), false) => to_burst(b, "burst_number"),
                (Some(b), true) => say![to_burst(b, "burst_number"), ", not certain: not used"],
                (None, true) => Sentence::from("not certain: not used"),
                (None, false) => nothing(),
            },
            m.and_then(|m| m.t_s).map_or_else(nothing, |t| {
                show.bare_fixed(Kind::Time, t, 1, key("t_s")).into()
            }),
            other.map_or_else(nothing, |b| to_burst(b, "other_burst_number")),
        ],
    }
}

/// What the note says, cell by cell, in the user's own words.
fn says(n: &Note) -> Sentence {
    let mut parts: Vec<Sentence> = Vec::new();
    if let Some(event) = &n.event {
        let words = KnownEvent::of(event).map(|known| Sentence::from(known.words()));
        parts.push(words.unwrap_or_else(|| quoted(event).into()));
    }
    if let Some(tip) = &n.tip {
        parts.push(say!["tip ", quoted(tip)]);
    }
    if let Some(material) = &n.material {
        parts.push(quoted(material).into());
    }
    if let Some(dial) = &n.dial {
        parts.push(say!["control ", quoted(dial)]);
    }
    if let Some(tails) = n.tails {
        parts.push(say!["tails ", tail_grade(tails)]);
    }
    match n.runs {
        Some(true) => parts.push(Sentence::from("runs")),
        Some(false) => parts.push(Sentence::from("no runs")),
        None => {}
    }
    if let Some(text) = &n.text {
        parts.push(say!["\u{201c}", quoted(text), "\u{201d}"]);
    }
    let mut out = Sentence::default();
    for (i, part) in parts.into_iter().enumerate() {
        if i > 0 {
            out.push(", ");
        }
        out.push(part);
    }
    if out.is_empty() { nothing() } else { out }
}
