//! One table of a TOML text, taken apart key by key: what is never taken is unknown.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::recording::cells::clip;
use crate::recording::fault::{Faults, Place, What};
use crate::recording::rows::line_of;

/// What stands in the whole text, gathered while tables are taken apart.
pub(super) struct Gathered<'t> {
    /// The text, for lines and for the words of unknown keys.
    pub(super) text: &'t str,
    /// Faults so far.
    pub(super) faults: Faults,
    /// Unknown keys: position, dotted key, text of the value.
    pub(super) unknown: Vec<(usize, String, String)>,
}

impl Gathered<'_> {
    fn line(&self, at: usize) -> usize {
        line_of(self.text.as_bytes(), at)
    }
}

/// A table whose known keys are taken out one by one.
pub(super) struct Keys<'t> {
    path: String,
    span: Range<usize>,
    table: DeTable<'t>,
}

impl<'t> Keys<'t> {
    pub(super) fn root(table: Spanned<DeTable<'t>>) -> Self {
        Self {
            path: String::new(),
            span: table.span(),
            table: table.into_inner(),
        }
    }

    fn dotted(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// Adds a fault at the value of a key, or at the table where there is no value.
    pub(super) fn fault(&self, key: &str, span: &Range<usize>, what: What, g: &mut Gathered<'_>) {
        let place = Place::Key {
            line: g.line(span.start),
            key: self.dotted(key),
        };
        g.faults.push(place, what);
    }

    /// Takes the value of a key through `read`; what `read` refuses is a fault at its line.
    pub(super) fn take<T>(
        &mut self,
        key: &'static str,
        g: &mut Gathered<'_>,
        read: impl FnOnce(&DeValue<'t>) -> Result<T, What>,
    ) -> Option<T> {
        let value = self.table.remove(key)?;
        match read(value.get_ref()) {
            Ok(read) => Some(read),
            Err(what) => {
                self.fault(key, &value.span(), what, g);
                None
            }
        }
    }

    /// A text.
    pub(super) fn text(&mut self, key: &'static str, g: &mut Gathered<'_>) -> Option<String> {
        self.take(key, g, |value| text(value).map(str::to_owned))
    }

    /// A text that the entry cannot do without and that is not empty.
    pub(super) fn needed_text(&mut self, key: &'static str, g: &mut Gathered<'_>) -> String {
        self.needed(key, g, |value| match text(value)?.trim() {
            "" => Err(What::EmptyCell),
            text => Ok(text.to_owned()),
        })
        .unwrap_or_default()
    }

    /// A value that the entry cannot do without.
    pub(super) fn needed<T>(
        &mut self,
        key: &'static str,
        g: &mut Gathered<'_>,
        read: impl FnOnce(&DeValue<'t>) -> Result<T, What>,
    ) -> Option<T> {
        if !self.table.contains_key(key) {
            let span = self.span.clone();
            self.fault(key, &span, What::MissingKey, g);
        }
        self.take(key, g, read)
    }

    /// A finite number above 0.
    pub(super) fn positive(&mut self, key: &'static str, g: &mut Gathered<'_>) -> Option<f64> {
        self.take(key, g, positive)
    }

    /// A finite number from `low` to `high`.
    pub(super) fn within(
        &mut self,
        key: &'static str,
        low: f64,
        high: f64,
        g: &mut Gathered<'_>,
    ) -> Option<f64> {
        self.take(key, g, |value| within(value, low, high))
    }

    /// A table below this one.
    pub(super) fn table(&mut self, key: &'static str, g: &mut Gathered<'_>) -> Option<Self> {
        let path = self.dotted(key);
        let value = self.table.remove(key)?;
        let span = value.span();
        let (found, value) = (type_name(value.get_ref()), value.into_inner());
        if let DeValue::Table(table) = value {
            return Some(Self { path, span, table });
        }
        let expected = "a table";
        self.fault(key, &span, What::WrongType { found, expected }, g);
        None
    }

    /// A list of tables, written `[[key]]`.
    pub(super) fn list(&mut self, key: &'static str, g: &mut Gathered<'_>) -> Vec<Self> {
        let Some(value) = self.table.remove(key) else {
            return Vec::new();
        };
        let span = value.span();
        let found = type_name(value.get_ref());
        let expected = "a list of tables";
        let DeValue::Array(entries) = value.into_inner() else {
            self.fault(key, &span, What::WrongType { found, expected }, g);
            return Vec::new();
        };
        let path = self.dotted(key);
        let mut tables = Vec::new();
        for (i, entry) in entries.into_iter().enumerate() {
            let span = entry.span();
            let found = type_name(entry.get_ref());
            let path = format!("{path}[{}]", i + 1);
            match entry.into_inner() {
                DeValue::Table(table) => tables.push(Self { path, span, table }),
                _ => self.fault(key, &span, What::WrongType { found, expected }, g),
            }
        }
        tables
    }

    /// Where the value of a key stands, for a fault that is found later.
    pub(super) fn span_of(&self, key: &str) -> Range<usize> {
        self.table
            .get(key)
            .map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// What was not taken is unknown: kept with its text.
    pub(super) fn finish(self, g: &mut Gathered<'_>) {
        for (key, value) in &self.table {
            keep_unknown(&self.dotted(&key_text(key.get_ref())), value, g);
        }
    }
}

/// Keeps an unknown key, tables by the keys in them.
fn keep_unknown(path: &str, value: &Spanned<DeValue<'_>>, g: &mut Gathered<'_>) {
    match value.get_ref() {
        DeValue::Table(table) if !table.is_empty() => {
            for (key, value) in table {
                let path = format!("{path}.{}", key_text(key.get_ref()));
                keep_unknown(&path, value, g);
            }
        }
        DeValue::Array(entries) if entries.iter().any(|e| e.get_ref().is_table()) => {
            for (i, entry) in entries.iter().enumerate() {
                keep_unknown(&format!("{path}[{}]", i + 1), entry, g);
            }
        }
        // Where it stands is its header, which is no value.
        DeValue::Table(_) => {
            let at = value.span().start;
            g.unknown.push((at, path.to_owned(), "{}".to_owned()));
        }
        _ => {
            let span = value.span();
            let text = g.text.get(span.clone()).unwrap_or("").trim().to_owned();
            g.unknown.push((span.start, path.to_owned(), text));
        }
    }
}

/// A key as it has to be written: in quotes where it has other letters than a bare key may have.
fn key_text(key: &str) -> String {
    let is_bare = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '_' | '-');
    if !key.is_empty() && key.chars().all(is_bare) {
        return key.to_owned();
    }
    toml::Value::String(key.to_owned()).to_string()
}

/// What a TOML value is, in words.
fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// The fault of a value that is something else.
pub(super) fn wrong_type(value: &DeValue<'_>, expected: &'static str) -> What {
    let found = type_name(value);
    What::WrongType { found, expected }
}

/// A text as it stands.
pub(super) fn text<'v>(value: &'v DeValue<'_>) -> Result<&'v str, What> {
    match value {
        DeValue::String(text) => Ok(text),
        DeValue::Integer(_) => Err(wrong_type(value, "a text in quotation marks")),
        _ => Err(wrong_type(value, "a text")),
    }
}

/// A finite number, whole or not.
pub(super) fn number(value: &DeValue<'_>) -> Result<f64, What> {
    let digits = match value {
        DeValue::Integer(digits) if digits.radix() == 10 => digits.as_str(),
        DeValue::Float(digits) => digits.as_str(),
        _ => return Err(wrong_type(value, "a number")),
    };
    let plain: String = digits.chars().filter(|c| *c != '_').collect();
    let number = plain.parse::<f64>().ok().filter(|v| v.is_finite());
    number.ok_or_else(|| What::NotANumber { cell: clip(digits) })
}

/// A finite number above 0.
pub(super) fn positive(value: &DeValue<'_>) -> Result<f64, What> {
    let value = number(value)?;
    if value > 0.0 {
        Ok(value)
    } else {
        Err(What::NotPositive { value })
    }
}

/// A finite number from `low` to `high`.
pub(super) fn within(value: &DeValue<'_>, low: f64, high: f64) -> Result<f64, What> {
    let value = number(value)?;
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(What::OutOfRange { value, low, high })
    }
}
