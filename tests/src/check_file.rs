//! Reading the files of `checks/`: comma-separated, one header row, comment lines with `#`.
//!
//! A cell is text until a test asks for a number. A missing file, column or number is a panic with
//! its place, because a check that cannot be read must not pass.

use std::path::Path;

/// One file of published or reference values.
#[derive(Debug, Clone)]
pub struct CheckFile {
    name: String,
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a [`CheckFile`].
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    file: &'a CheckFile,
    index: usize,
}

impl CheckFile {
    /// Read `checks/<name>`.
    ///
    /// *Panics* when the file cannot be read or a row does not have as many cells as the header.
    #[must_use]
    pub fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("checks")
            .join(name);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) => panic!("checks/{name}: {error}"),
        };
        let mut lines = text
            .lines()
            .filter(|line| !line.trim().is_empty() && !line.starts_with('#'))
            .map(|line| line.split(',').map(|c| c.trim().to_owned()).collect());
        let header: Vec<String> = lines.next().unwrap_or_default();
        let rows: Vec<Vec<String>> = lines.collect();
        for (index, row) in rows.iter().enumerate() {
            assert_eq!(row.len(), header.len(), "checks/{name}, data row {index}");
        }
        Self {
            name: name.to_owned(),
            header,
            rows,
        }
    }

    /// Every row, in the order of the file.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        (0..self.rows.len()).map(|index| Row { file: self, index })
    }

    /// The rows whose `column` holds `text`.
    pub fn rows_where<'a>(
        &'a self,
        column: &'a str,
        text: &'a str,
    ) -> impl Iterator<Item = Row<'a>> {
        self.rows().filter(move |row| row.text(column) == text)
    }

    /// The number in column `value` of the one row whose column `name` is `name`.
    ///
    /// *Panics* when there is no such row.
    #[must_use]
    pub fn named(&self, name: &str) -> f64 {
        match self.rows_where("name", name).next() {
            Some(row) => row.number("value"),
            None => panic!("checks/{}: no row named {name}", self.name),
        }
    }
}

impl Row<'_> {
    /// A cell as text.
    ///
    /// *Panics* when the file has no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        match self.file.header.iter().position(|c| c == column) {
            Some(position) => &self.file.rows[self.index][position],
            None => panic!("checks/{}: no column {column}", self.file.name),
        }
    }

    /// A cell as a number.
    ///
    /// *Panics* when it is none.
    #[must_use]
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        match text.parse() {
            Ok(number) => number,
            Err(error) => panic!(
                "checks/{}, data row {}, column {column}: \"{text}\": {error}",
                self.file.name, self.index
            ),
        }
    }
}
