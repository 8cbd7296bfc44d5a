//! The tables of the report.

mod around;
mod bursts;
mod groups;
mod health;
mod notes;

use super::table::{Row, Table, numbers, words};
use super::verdict::setting_name;
use crate::findings::Findings;
use crate::report::card_data::pressure_to_set;
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, link, say};
use crate::report::wording::{Subject, capitalised, kind_name, state};

/// All tables, in reading order.
pub(super) fn tables(f: &Findings, show: Show) -> Vec<Table> {
    [
        groups::groups(f, show),
        groups::supply(f, show),
        bursts::bursts(f, show),
        notes::notes(f, show),
        around::around(f, show),
        health::health(f, show),
        health::instruments(f, show),
    ]
    .into_iter()
    .filter(|t| !t.rows.is_empty())
    .collect()
}

/// A dash where there is nothing.
pub(super) fn nothing() -> Sentence {
    Sentence::from("\u{2013}")
}

/// All settings at a glance; `None` for one verdict or none.
pub(super) fn overview(f: &Findings, show: Show) -> Option<Table> {
    if f.verdicts.len() < 2 {
        return None;
    }
    let rows = (0..f.verdicts.len())
        .filter_map(|i| Subject::new(f, show, i))
        .map(|s| overview_row(&s))
        .collect();
    Some(Table {
        id: "overview",
        title: "All settings at a glance",
        caption: Sentence::default(),
        columns: vec![
            words("Setting"),
            words("Answer"),
            numbers("Set", ""),
            numbers("Tails gone from", ""),
            numbers("Rig holds", ""),
            numbers("How sure", ""),
        ],
        rows,
    })
}

fn overview_row(s: &Subject) -> Row {
    let g = s.group;
    let lower = g
        .window
        .and_then(|w| Some((w.lower_pa?, w.lower_interval_pa?)));
    Row {
        id: String::new(),
        is_quiet: false,
        cells: vec![
            setting_name(s.findings, s.show, s.verdict.group_index),
            say![
                link(
                    capitalised(kind_name(s.verdict.kind)),
                    format!("verdict-{}", s.verdict_index + 1)
                ),
                format!(" ({})", state(s.verdict.kind).word().to_lowercase())
            ],
            pressure_to_set(s.findings, s.verdict.group_index)
                .and_then(|_| s.recommended())
                .unwrap_or_else(nothing),
            lower.map_or_else(nothing, |(pa, i)| {
                s.show.rounded(
                    Kind::Pressure,
                    pa,
                    0.5 * (i.high - i.low),
                    s.group_key("window/lower_pa"),
                )
            }),
            g.crossing.map_or_else(nothing, |c| {
                s.show.rounded(
                    Kind::Pressure,
                    c.pressure_pa.value,
                    0.5 * (c.interval_95_pa.high - c.interval_95_pa.low),
                    s.group_key("crossing/pressure_pa/value"),
                )
            }),
            s.show
                .probability(s.verdict.confidence, s.key("confidence")),
        ],
    }
}
