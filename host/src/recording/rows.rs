//! The rows of a CSV file (RFC 4180, UTF-8) with the line each stands in.
//!
//! Accepts a byte order mark, LF and CRLF, quoted cells, blank lines (skipped) and spaces around
//! a cell. Knows no column and no unit.

use csv::StringRecord;

use super::fault::{Faults, Place, What};

/// A CSV text, read row by row.
pub(super) struct Rows<'t> {
    text: &'t [u8],
    reader: csv::Reader<&'t [u8]>,
    record: StringRecord,
    columns: Vec<String>,
    header_line: usize,
    line: LineCounter,
}

/// One row: as many cells as the header has.
pub(super) struct Row<'r> {
    /// Line that the row begins in, the header being 1.
    pub(super) line: usize,
    record: &'r StringRecord,
}

impl Row<'_> {
    /// The cell of a column, without the spaces around it.
    pub(super) fn cell(&self, column_index: usize) -> &str {
        self.record.get(column_index).unwrap_or("").trim()
    }

    /// True when no cell holds anything, as spreadsheets leave rows behind.
    pub(super) fn is_blank(&self) -> bool {
        self.record.iter().all(|cell| cell.trim().is_empty())
    }
}

impl<'t> Rows<'t> {
    /// Checks that the bytes are text and reads the header.
    ///
    /// # Errors
    /// Bytes that are no text, an empty text, a quotation mark that is never closed, a column
    /// named twice.
    pub(super) fn open(bytes: &'t [u8]) -> Result<Self, Faults> {
        let text = checked_csv(bytes)?;
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(text);
        let mut rows = Self {
            text,
            reader,
            record: StringRecord::new(),
            columns: Vec::new(),
            header_line: 1,
            line: LineCounter::default(),
        };
        rows.read_header()?;
        Ok(rows)
    }

    fn read_header(&mut self) -> Result<(), Faults> {
        self.read_record();
        self.header_line = self.line.line;
        let mut faults = Faults::default();
        for cell in &self.record {
            let name = cell.trim().to_owned();
            if !name.is_empty() && self.columns.contains(&name) {
                let place = Place::Line(self.header_line);
                faults.push(place, What::DuplicateColumn { name: name.clone() });
            }
            self.columns.push(name);
        }
        faults.or(())
    }

    /// Reads the next record and the line it begins in; false at the end.
    fn read_record(&mut self) -> bool {
        // The text was checked to be UTF-8 and lies in memory: nothing can fail but its end.
        let is_record = self.reader.read_record(&mut self.record).unwrap_or(false);
        if is_record {
            let offset = self.record.position().map_or(0, csv::Position::byte);
            self.line.advance(self.text, offset);
        }
        is_record
    }

    /// Line of the header.
    pub(super) fn header_line(&self) -> usize {
        self.header_line
    }

    /// Column names in order of the file.
    pub(super) fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Position of a column.
    pub(super) fn column_index(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|c| c == name)
    }

    /// Positions of named columns that are not `known`, to be passed through.
    pub(super) fn unknown_columns(&self, known: &[&str]) -> Vec<usize> {
        (0..self.columns.len())
            .filter(|i| {
                let name = self.columns[*i].as_str();
                !name.is_empty() && !known.contains(&name)
            })
            .collect()
    }

    /// What to say when a column is missing.
    pub(super) fn missing(&self, name: &'static str) -> What {
        What::MissingColumn {
            name,
            found: self.columns.join(", "),
        }
    }

    /// The next row. A row that does not fit the header is a fault and is passed over.
    pub(super) fn next(&mut self, faults: &mut Faults) -> Option<Row<'_>> {
        while self.read_record() {
            let (found, expected) = (self.record.len(), self.columns.len());
            if found == expected {
                return Some(Row {
                    line: self.line.line,
                    record: &self.record,
                });
            }
            let place = Place::Line(self.line.line);
            faults.push(place, What::CellCount { found, expected });
        }
        None
    }
}

/// Counts lines up to a byte offset that only grows.
///
/// The CSV reader's own count lags behind when lines end in CRLF or are blank.
struct LineCounter {
    line: usize,
    offset: usize,
}

impl Default for LineCounter {
    fn default() -> Self {
        Self { line: 1, offset: 0 }
    }
}

impl LineCounter {
    /// Goes on to the first character at or after `offset` that does not end a line.
    fn advance(&mut self, text: &[u8], offset: u64) {
        let target = usize::try_from(offset).map_or(text.len(), |o| o.min(text.len()));
        while let Some(byte) = text.get(self.offset) {
            let ends_line =
                *byte == b'\n' || (*byte == b'\r' && text.get(self.offset + 1) != Some(&b'\n'));
            if self.offset >= target && !matches!(byte, b'\n' | b'\r') {
                break;
            }
            self.line += usize::from(ends_line);
            self.offset += 1;
        }
    }
}

/// The bytes as CSV text: UTF-8, not empty, every quotation mark closed.
fn checked_csv(bytes: &[u8]) -> Result<&[u8], Faults> {
    let text = checked_utf8(bytes)?.as_bytes();
    if text.iter().all(u8::is_ascii_whitespace) {
        return Err(Faults::of_file(What::Empty));
    }
    if let Some(at) = open_quote(text) {
        return Err(Faults::one(Place::Line(line_of(text, at)), What::OpenQuote));
    }
    Ok(text)
}

/// The bytes as text without byte order mark.
///
/// # Errors
/// UTF-16, zero bytes (a binary file), bytes that are no UTF-8.
pub(super) fn checked_utf8(bytes: &[u8]) -> Result<&str, Faults> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Faults::of_file(What::Utf16));
    }
    let body = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let zero_at = body.iter().position(|b| *b == 0).unwrap_or(body.len());
    let not_text = |at: usize| {
        let offset = bytes.len() - body.len() + at;
        Faults::one(Place::Line(line_of(body, at)), What::NotText { offset })
    };
    match std::str::from_utf8(body) {
        Ok(text) if zero_at == body.len() => Ok(text),
        Ok(_) => Err(not_text(zero_at)),
        Err(e) => Err(not_text(zero_at.min(e.valid_up_to()))),
    }
}

/// Line of a byte.
pub(super) fn line_of(text: &[u8], offset: usize) -> usize {
    1 + text[..offset.min(text.len())]
        .iter()
        .filter(|b| **b == b'\n')
        .count()
}

/// Where a quoted cell begins that never ends: the reader would take the rest of the file for it.
fn open_quote(text: &[u8]) -> Option<usize> {
    if !text.contains(&b'"') {
        return None;
    }
    let mut opened_at = None;
    let mut at_cell_start = true;
    for (i, byte) in text.iter().enumerate() {
        match (byte, opened_at) {
            (b'"', None) if at_cell_start => opened_at = Some(i),
            // A doubled quotation mark closes and opens again at once: the same as staying open.
            (b'"', Some(_)) => opened_at = None,
            _ => {}
        }
        at_cell_start = opened_at.is_none()
            && (matches!(byte, b',' | b'\n' | b'\r') || (*byte == b'"' && !at_cell_start));
    }
    opened_at
}
