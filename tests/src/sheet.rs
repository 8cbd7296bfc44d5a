//! A spreadsheet: it reads the whole file, is edited, and saves the whole file over whatever is there by then, in its
//! own way of writing.

use std::fs;
use std::path::Path;

/// How it writes.
#[derive(Debug, Clone, Copy, Default)]
pub struct Style {
    /// A byte order mark first.
    pub has_mark: bool,
    /// CRLF.
    pub has_crlf: bool,
    /// Every cell in quotation marks.
    pub quotes_all: bool,
    /// No line break behind the last row.
    pub lacks_last_break: bool,
    /// To another name first, then over the old file.
    pub renames: bool,
}

/// A file that is open in it.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    columns: Vec<String>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
}

impl Sheet {
    /// Opens the file.
    ///
    /// # Panics
    /// When it is none that a spreadsheet reads.
    #[must_use]
    pub fn open(path: &Path) -> Self {
        let bytes = fs::read(path).unwrap_or_default();
        let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
        let mut records = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(text)
            .into_records()
            .map(|record| {
                let record = record.expect("text");
                record.iter().map(str::to_owned).collect::<Vec<_>>()
            });
        Self {
            columns: records.next().unwrap_or_default(),
            rows: records.collect(),
        }
    }

    /// Types a row below the others; cells by column.
    pub fn add_row(&mut self, cells: &[(&str, &str)]) {
        for (name, _) in cells {
            self.column(name);
        }
        let mut row = vec![String::new(); self.columns.len()];
        for (name, cell) in cells {
            row[self.column(name)] = (*cell).to_owned();
        }
        self.rows.push(row);
    }

    /// Changes a cell.
    pub fn set(&mut self, row: usize, column: &str, cell: &str) {
        let column = self.column(column);
        self.rows[row].resize(self.columns.len(), String::new());
        self.rows[row][column] = cell.to_owned();
    }

    /// What a cell says.
    #[must_use]
    pub fn get(&self, row: usize, column: &str) -> &str {
        let column = self.columns.iter().position(|name| name == column);
        column
            .and_then(|i| self.rows[row].get(i))
            .map_or("", |cell| cell)
    }

    fn column(&mut self, name: &str) -> usize {
        let known = self.columns.iter().position(|column| column == name);
        known.unwrap_or_else(|| {
            self.columns.push(name.to_owned());
            for row in &mut self.rows {
                row.push(String::new());
            }
            self.columns.len() - 1
        })
    }

    /// Saves over whatever is there.
    ///
    /// # Panics
    /// When the system cannot write.
    pub fn save(&self, path: &Path, style: Style) {
        let mut writer = csv::WriterBuilder::new()
            .quote_style(if style.quotes_all {
                csv::QuoteStyle::Always
            } else {
                csv::QuoteStyle::Necessary
            })
            .terminator(if style.has_crlf {
                csv::Terminator::CRLF
            } else {
                csv::Terminator::Any(b'\n')
            })
            .from_writer(Vec::new());
        for record in std::iter::once(&self.columns).chain(&self.rows) {
            writer.write_record(record).expect("memory");
        }
        let mut bytes = writer.into_inner().expect("memory");
        if style.has_mark {
            bytes.splice(0..0, *b"\xef\xbb\xbf");
        }
        if style.lacks_last_break {
            while matches!(bytes.last(), Some(b'\n' | b'\r')) {
                bytes.pop();
            }
        }
        if style.renames {
            let other = path.with_extension("sheet");
            fs::write(&other, bytes).expect("a file");
            fs::rename(&other, path).expect("a file");
        } else {
            fs::write(path, bytes).expect("a file");
        }
    }
}
