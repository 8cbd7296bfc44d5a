//! Notes as rows of `notes.csv`.

use std::collections::BTreeSet;

use super::{COLUMNS, Note, time};
use crate::recording::decimal::decimal;

/// A whole `notes.csv`: every known column, then the unknown ones that any note carries.
///
/// Absolute times are written with the offset from UTC given, so that a person reads the clock
/// that hung on the wall. Reading the text gives equal notes, but for their line numbers.
#[must_use]
pub fn write(notes: &[Note], utc_offset_s: f64) -> String {
    let extra: BTreeSet<&str> = notes
        .iter()
        .flat_map(|note| note.extra.iter().map(|(name, _)| name.as_str()))
        .collect();
    let columns: Vec<&str> = COLUMNS.into_iter().chain(extra).collect();
    let mut text = record(&columns);
    for note in notes {
        text.push_str(&row(note, &columns, utc_offset_s));
    }
    text
}

/// One row under these columns, with its line break.
pub(super) fn row(note: &Note, columns: &[&str], utc_offset_s: f64) -> String {
    let cells: Vec<String> = columns
        .iter()
        .map(|column| cell(note, column, utc_offset_s))
        .collect();
    record(&cells)
}

/// The columns that a note fills.
pub(super) fn filled(note: &Note) -> Vec<&str> {
    let known = COLUMNS
        .into_iter()
        .filter(|c| !cell(note, c, 0.0).is_empty());
    let extra = note
        .extra
        .iter()
        .filter(|(_, cell)| !cell.is_empty())
        .map(|(name, _)| name.as_str());
    known.chain(extra).collect()
}

/// Cells as one CSV record, quoted where needed.
pub(super) fn record<T: AsRef<[u8]>>(cells: &[T]) -> String {
    let mut writer = csv::WriterBuilder::new()
        .flexible(true)
        .from_writer(Vec::new());
    // Writing into memory cannot fail, and cells that were text stay text.
    let written = writer
        .write_record(cells)
        .ok()
        .and_then(|()| writer.into_inner().ok());
    written
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default()
}

fn cell(note: &Note, column: &str, utc_offset_s: f64) -> String {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let flag = |value: Option<bool>| value.map(|v| u8::from(v).to_string()).unwrap_or_default();
    let scaled =
        |value: Option<f64>, factor: f64| value.map(|v| decimal(v * factor)).unwrap_or_default();
    match column {
        "time" => time::write(&note.time, utc_offset_s),
        "tip" => text(&note.tip),
        "tip_family" => text(&note.tip_family),
        "material" => text(&note.material),
        "thinner_pct" => scaled(note.thinner_ratio, 100.0),
        "dial" => text(&note.dial),
        "tails" => note.tails.map(|t| t.to_string()).unwrap_or_default(),
        "runs" => flag(note.runs),
        "comb_um" => scaled(note.comb_m, 1.0e6),
        "strained" => flag(note.strained),
        "catch_g" => scaled(note.catch_kg, 1.0e3),
        "catch_s" => scaled(note.catch_s, 1.0),
        "event" => text(&note.event),
        "text" => text(&note.text),
        other => note
            .extra
            .iter()
            .find(|(name, _)| name == other)
            .map(|(_, cell)| cell.clone())
            .unwrap_or_default(),
    }
}
