//! What is wrong with a plain-text file, and where: a value that is printed elsewhere.
//!
//! Reading goes on after a fault, so that a person sees all of them at once; a file with one fault
//! still yields nothing. The file's name is added by whoever knows it (see [`FileFaults`]), what
//! became of the data by whoever decided it, and advice by `cli::hints`.

use std::fmt;

/// Where in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The file as a whole.
    File,
    /// One line, the first being 1.
    Line(usize),
    /// One cell of a table.
    Cell {
        /// Line, the header being 1.
        line: usize,
        /// Column, as the header names it.
        column: String,
    },
    /// One key of `session.toml`.
    Key {
        /// Line of the value.
        line: usize,
        /// Dotted key, entries of a list counted from 1: `material[2].viscosity[1].temperature_c`.
        key: String,
    },
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File => Ok(()),
            Self::Line(line) => write!(f, ", line {line}"),
            Self::Cell { line, column } => write!(f, ", line {line}, column {column}"),
            Self::Key { line, key } => write!(f, ", line {line}, key {key}"),
        }
    }
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum What {
    /// A roster that contradicts itself.
    #[error("{message}; nothing was made")]
    Roster {
        /// What, and what to do.
        message: String,
    },
    /// The file is not there.
    #[error("not found")]
    NotFound,
    /// The system refused.
    #[error("cannot be read: {message}")]
    Unreadable {
        /// The system's own words.
        message: String,
    },
    /// Larger than this program reads.
    #[error("larger than {limit_mib} MiB, the most that is read of this file")]
    TooLarge {
        /// The limit in MiB.
        limit_mib: u64,
    },
    /// No byte, or none but white space.
    #[error("empty")]
    Empty,
    /// A header and nothing below it.
    #[error("no row below the header")]
    NoRows,
    /// A zero byte or bytes that are no UTF-8.
    #[error("byte {offset} is not UTF-8 text")]
    NotText {
        /// Position of the byte, the first being 0.
        offset: usize,
    },
    /// Text of two bytes a character.
    #[error("UTF-16 text, UTF-8 is needed")]
    Utf16,
    /// A quotation mark that is never closed.
    #[error("the quotation mark is never closed")]
    OpenQuote,
    /// A row that is longer or shorter than the header.
    #[error("{found} cells, the header has {expected}")]
    CellCount {
        /// Cells in the row.
        found: usize,
        /// Cells in the header.
        expected: usize,
    },
    /// A column that must be there is not.
    #[error("column {name} is missing (found: {found})")]
    MissingColumn {
        /// What the file should have, for example `flow_pulses or flow_l_min`.
        name: &'static str,
        /// Columns that it has.
        found: String,
    },
    /// The header names a column twice.
    #[error("column {name} stands twice in the header")]
    DuplicateColumn {
        /// Its name.
        name: String,
    },
    /// No finite number.
    #[error("\"{cell}\" is not a number (the decimal sign is \".\")")]
    NotANumber {
        /// The cell as written.
        cell: String,
    },
    /// No count.
    #[error("\"{cell}\" is not a whole number from 0 to {}", u32::MAX)]
    NotACount {
        /// The cell as written.
        cell: String,
    },
    /// None of the words or digits that may stand here.
    #[error("\"{cell}\" is not one of {allowed}")]
    NotOneOf {
        /// The cell as written.
        cell: String,
        /// What may stand here.
        allowed: &'static str,
    },
    /// No way of writing a time that `notes.csv` knows.
    #[error(
        "\"{cell}\" is not a time (HH:MM, HH:MM:SS, ~HH:MM, t+seconds, \
         a date-time with offset such as 2024-05-03T14:20:00+02:00, or empty)"
    )]
    NotATime {
        /// The cell as written.
        cell: String,
    },
    /// No calendar date.
    #[error("\"{cell}\" is not a date, such as 2024-05-03")]
    NotADate {
        /// The text as written.
        cell: String,
    },
    /// No date-time, or one without offset.
    #[error(
        "\"{cell}\" is not a date-time with its offset from UTC, such as 2024-05-03T14:20:00+02:00"
    )]
    NotADateTime {
        /// The text as written.
        cell: String,
    },
    /// A number that must be above 0.
    #[error("{value} is not above 0")]
    NotPositive {
        /// The number.
        value: f64,
    },
    /// A number outside what the quantity can be.
    #[error("{value} is outside {low} to {high}")]
    OutOfRange {
        /// The number.
        value: f64,
        /// Least.
        low: f64,
        /// Most.
        high: f64,
    },
    /// A cell that may not be empty.
    #[error("empty, every row needs it")]
    EmptyCell,
    /// Logger time that does not rise.
    #[error("{t_s} s does not follow {previous_s} s: time must rise from row to row")]
    TimeNotRising {
        /// This row's time.
        t_s: f64,
        /// Latest time before.
        previous_s: f64,
    },
    /// An edge that is older than the one before.
    #[error("{edge_s} s follows {previous_s} s: time runs backwards")]
    EdgeBackwards {
        /// This row's edge.
        edge_s: f64,
        /// Latest edge before.
        previous_s: f64,
    },
    /// An edge after the row that reports it.
    #[error("{edge_s} s is later than the row itself ({t_s} s)")]
    EdgeAfterRow {
        /// This row's edge.
        edge_s: f64,
        /// This row's time.
        t_s: f64,
    },
    /// Not TOML.
    #[error("not TOML: {message}")]
    NotToml {
        /// The parser's own words.
        message: String,
    },
    /// A value of another type.
    #[error("{found}, {expected} is needed")]
    WrongType {
        /// What stands there.
        found: &'static str,
        /// What should.
        expected: &'static str,
    },
    /// A key that an entry cannot do without.
    #[error("missing in this entry")]
    MissingKey,
    /// Two entries of a list with one name.
    #[error("\"{name}\" stands twice in the list")]
    DuplicateName {
        /// The name or code.
        name: String,
    },
    /// Two keys that say the same thing differently.
    #[error("disagrees with {other}: {value} against {other_value}")]
    Disagrees {
        /// The other key.
        other: &'static str,
        /// This key's value, in this key's unit.
        value: f64,
        /// The other key's value, in this key's unit.
        other_value: f64,
    },
}

/// One fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Where.
    pub place: Place,
    /// What.
    pub what: What,
}

/// Faults that are listed one by one; beyond this they are only counted.
pub const MOST_LISTED: usize = 20;

/// Everything wrong with one text, in order of lines; empty means none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Faults {
    /// The first [`MOST_LISTED`].
    pub list: Vec<Fault>,
    /// How many more there are.
    pub n_more: usize,
}

impl Faults {
    /// A single fault of the whole file.
    #[must_use]
    pub fn of_file(what: What) -> Self {
        Self::one(Place::File, what)
    }

    /// A single fault.
    #[must_use]
    pub fn one(place: Place, what: What) -> Self {
        let mut faults = Self::default();
        faults.push(place, what);
        faults
    }

    /// Adds a fault.
    pub fn push(&mut self, place: Place, what: What) {
        if self.list.len() < MOST_LISTED {
            self.list.push(Fault { place, what });
        } else {
            self.n_more += 1;
        }
    }

    /// How many there are in all.
    #[must_use]
    pub fn count(&self) -> usize {
        self.list.len() + self.n_more
    }

    /// The value when there is no fault, else the faults.
    ///
    /// # Errors
    /// When there is a fault.
    pub fn or<T>(self, value: T) -> Result<T, Self> {
        if self.list.is_empty() {
            Ok(value)
        } else {
            Err(self)
        }
    }
}

/// The faults of one file, with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct FileFaults {
    /// Name of the file, as a person would look for it.
    pub file: String,
    /// Its faults.
    pub faults: Faults,
}

impl fmt::Display for FileFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.faults.list.iter().enumerate() {
            let line_break = if i == 0 { "" } else { "\n" };
            write!(
                f,
                "{line_break}{}{}: {}",
                self.file, fault.place, fault.what
            )?;
        }
        if self.faults.n_more > 0 {
            write!(f, "\n{}: {} more faults", self.file, self.faults.n_more)?;
        }
        Ok(())
    }
}

impl std::error::Error for FileFaults {}
