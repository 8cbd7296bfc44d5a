//! A table as a value.

use crate::report::piece::Sentence;

/// How a column is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A column's head.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    /// Words, with the unit of the numbers below.
    pub(crate) head: String,
    /// Setting.
    pub(crate) align: Align,
}

/// One row.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    /// Anchor of the row, empty for none.
    pub(crate) id: String,
    /// True for what is listed but not used.
    pub(crate) is_quiet: bool,
    /// One cell a column.
    pub(crate) cells: Vec<Sentence>,
}

/// A table.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    /// Anchor.
    pub(crate) id: &'static str,
    /// Heading.
    pub(crate) title: &'static str,
    /// One or two sentences on how to read it.
    pub(crate) caption: Sentence,
    /// Columns; the first names the row.
    pub(crate) columns: Vec<Column>,
    /// Rows.
    pub(crate) rows: Vec<Row>,
}

/// A column of words.
pub(crate) fn words(head: &str) -> Column {
    Column {
        head: head.to_owned(),
        align: Align::Left,
    }
}

/// A column of numbers with its unit.
pub(crate) fn numbers(head: &str, unit: &str) -> Column {
    Column {
        head: if unit.is_empty() {
            head.to_owned()
        } else {
            format!("{head}, {unit}")
        },
        align: Align::Right,
    }
}
