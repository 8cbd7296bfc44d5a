//! `notes.csv`: text to [`Note`]s, all or nothing.

use super::{Note, time};
use crate::recording::cells;
use crate::recording::fault::{Faults, Place, What};
use crate::recording::rows::{Row, Rows};

/// The columns that this program knows, in the order that it writes them.
pub const COLUMNS: [&str; 14] = [
    "time",
    "tip",
    "tip_family",
    "material",
    "thinner_pct",
    "dial",
    "tails",
    "runs",
    "comb_um",
    "strained",
    "catch_g",
    "catch_s",
    "event",
    "text",
];

/// Reads a whole `notes.csv`.
///
/// Rows whose cells are all empty, as spreadsheets leave them behind, are no notes. A file with a
/// header and no row is a recording without notes. A header without a row keeps no memory of
/// unknown columns; with rows they are in [`Note::extra`].
///
/// # Errors
/// Everything that is wrong with the text, with line and column; nothing is read then.
pub fn read(bytes: &[u8]) -> Result<Vec<Note>, Faults> {
    let mut rows = Rows::open(bytes)?;
    let mut faults = Faults::default();
    if rows.column_index("time").is_none() {
        faults.push(Place::Line(rows.header_line()), rows.missing("time"));
        return Err(faults);
    }
    let known = COLUMNS.map(|name| rows.column_index(name));
    let extra: Vec<(usize, String)> = rows
        .unknown_columns(&COLUMNS)
        .into_iter()
        .map(|i| (i, rows.columns()[i].clone()))
        .collect();
    let mut notes = Vec::new();
    while let Some(row) = rows.next(&mut faults) {
        // A cell of a column without a name belongs to nothing and makes no note.
        let named = known.iter().flatten().chain(extra.iter().map(|(i, _)| i));
        if named.into_iter().all(|i| row.cell(*i).is_empty()) {
            continue;
        }
        let cells = Cells { row: &row, known };
        notes.push(cells.to_note(&extra, &mut faults));
    }
    faults.or(notes)
}

/// The cells of one row by their place in [`COLUMNS`].
struct Cells<'r> {
    row: &'r Row<'r>,
    known: [Option<usize>; COLUMNS.len()],
}

impl Cells<'_> {
    fn to_note(&self, extra: &[(usize, String)], faults: &mut Faults) -> Note {
        const MOST: f64 = 1.0e6;
        let percent = |cell: &str| cells::number_within(cell, 0.0, 100.0);
        let positive = |cell: &str| cells::number_within(cell, 0.0, MOST);
        let flag = |cell: &str| cells::digit(cell, 1, "0, 1").map(|v| v.map(|d| d == 1));
        Note {
            line: self.row.line,
            time: self.read(0, faults, time::read).unwrap_or_default(),
            tip: self.text(1),
            tip_family: self.text(2),
            material: self.text(3),
            thinner_ratio: self.value(4, faults, percent).map(|pct| pct / 100.0),
            dial: self.text(5),
            tails: self.value(6, faults, |c| cells::digit(c, 3, "0, 1, 2, 3")),
            runs: self.value(7, faults, flag),
            comb_m: self.value(8, faults, positive).map(|um| um * 1.0e-6),
            strained: self.value(9, faults, flag),
            catch_kg: self.value(10, faults, positive).map(|g| g * 1.0e-3),
            catch_s: self.value(11, faults, positive),
            event: self.text(12),
            text: self.text(13),
            extra: extra
                .iter()
                .map(|(i, name)| (name.clone(), self.row.cell(*i).to_owned()))
                .collect(),
        }
    }

    fn cell(&self, column: usize) -> &str {
        self.known[column].map_or("", |i| self.row.cell(i))
    }

    fn text(&self, column: usize) -> Option<String> {
        cells::text(self.cell(column))
    }

    fn value<T>(
        &self,
        column: usize,
        faults: &mut Faults,
        read: impl Fn(&str) -> Result<Option<T>, What>,
    ) -> Option<T> {
        self.read(column, faults, read).flatten()
    }

    fn read<T>(
        &self,
        column: usize,
        faults: &mut Faults,
        read: impl Fn(&str) -> Result<T, What>,
    ) -> Option<T> {
        match read(self.cell(column)) {
            Ok(value) => Some(value),
            Err(what) => {
                let place = Place::Cell {
                    line: self.row.line,
                    column: COLUMNS[column].to_owned(),
                };
                faults.push(place, what);
                None
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::fault::FileFaults;
    use crate::recording::notes::NoteTime;

    #[track_caller]
    fn check_refused(text: &[u8], message: &str) {
        let faults = read(text).expect_err("must be refused");
        let file = "notes.csv".to_owned();
        assert_eq!(FileFaults { file, faults }.to_string(), message);
    }

    #[test]
    fn a_row_becomes_a_note_in_si() {
        let notes = read(
            b"text,time,tip,thinner_pct,tails,runs,comb_um,strained,catch_g,catch_s,weather\r\n\
              \"gun warm,\nhose coiled\",13:08,415,5,3,0,100,1,250,20,dry\r\n,,,,,,,,,,\r\n,,,,2,,,,,,\r\n",
        )
        .unwrap();
        assert_eq!(notes.len(), 2);
        let first = &notes[0];
        assert_eq!(first.line, 2);
        assert_eq!(first.tip.as_deref(), Some("415"));
        assert_eq!(first.thinner_ratio, Some(0.05));
        assert_eq!(
            (first.tails, first.runs, first.strained),
            (Some(3), Some(false), Some(true))
        );
        assert!((first.comb_m.unwrap() - 1.0e-4).abs() < 1e-18);
        assert_eq!((first.catch_kg, first.catch_s), (Some(0.25), Some(20.0)));
        assert_eq!(first.text.as_deref(), Some("gun warm,\nhose coiled"));
        assert_eq!(first.extra, [("weather".to_owned(), "dry".to_owned())]);
        assert_eq!(notes[1].line, 5, "lines count inside quoted cells too");
        assert_eq!(notes[1].time, NoteTime::OrderedOnly);
    }

    #[test]
    fn a_header_alone_is_a_recording_without_notes() {
        assert_eq!(read(b"time,tip\n"), Ok(Vec::new()));
    }

    #[test]
    fn a_row_with_cells_in_a_nameless_column_only_is_no_note() {
        let notes = read(b"time,tip,,text\n10:01,415,1,a\n,,0,\n").unwrap();
        assert_eq!(notes.len(), 1);
        assert_eq!(notes[0].text.as_deref(), Some("a"));
    }

    #[test]
    fn every_fault_is_named_with_line_and_column() {
        check_refused(
            b"time,tails,runs,thinner_pct\nnoon,4,yes,120\n",
            "notes.csv, line 2, column time: \"noon\" is not a time (HH:MM, HH:MM:SS, ~HH:MM, t+seconds, \
             a date-time with offset such as 2024-05-03T14:20:00+02:00, or empty)\n\
             notes.csv, line 2, column thinner_pct: 120 is outside 0 to 100\n\
             notes.csv, line 2, column tails: \"4\" is not one of 0, 1, 2, 3\n\
             notes.csv, line 2, column runs: \"yes\" is not one of 0, 1",
        );
        check_refused(
            b"when,tails\n",
            "notes.csv, line 1: column time is missing (found: when, tails)",
        );
        check_refused(
            b"time,tails\n12:00\n",
            "notes.csv, line 2: 1 cells, the header has 2",
        );
    }
}
