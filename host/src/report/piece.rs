//! Text with numbers in it: each number keeps its SI value and the place in `result.json` that it came from.
//!
//! A page, a card and the terminal show the same sentences; only the writing differs. A test follows every
//! number of a page back to its place. No markup here.

use super::number::NBSP;

/// A number as it is shown, and where it is from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Number {
    /// Digits as shown, in the reader's unit.
    pub(crate) text: String,
    /// Symbol of the unit, or empty.
    pub(crate) unit: &'static str,
    /// SI value, exactly as `result.json` has it.
    pub(crate) si: f64,
    /// JSON pointer (RFC 6901) of that value in `result.json`.
    pub(crate) key: String,
}

/// A part of a sentence.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Piece {
    /// Words.
    Text(String),
    /// Words that a user wrote: shown as they are, escaped.
    Quoted(String),
    /// A number.
    Number(Number),
    /// A link to another part of the page.
    Link {
        /// Words and numbers.
        words: Sentence,
        /// Anchor without `#`.
        anchor: String,
    },
}

impl Piece {
    /// The number with a unit; words stay as they are.
    pub(crate) fn with_unit(self, unit: &'static str) -> Self {
        match self {
            Self::Number(number) => Self::Number(Number { unit, ..number }),
            other => other,
        }
    }
}

/// A run of pieces.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Sentence(pub(crate) Vec<Piece>);

impl Sentence {
    /// Adds a piece or a sentence.
    pub(crate) fn push(&mut self, more: impl Into<Self>) {
        self.0.extend(more.into().0);
    }

    /// Plain text, as the terminal shows it.
    #[must_use]
    pub(crate) fn to_text(&self) -> String {
        let mut out = String::new();
        for piece in &self.0 {
            match piece {
                Piece::Text(text) | Piece::Quoted(text) => out.push_str(text),
                Piece::Link { words, .. } => out.push_str(&words.to_text()),
                Piece::Number(number) => out.push_str(&number.to_text()),
            }
        }
        out
    }

    /// True when there is nothing to show.
    #[must_use]
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl Number {
    /// Digits and unit.
    #[must_use]
    pub(crate) fn to_text(&self) -> String {
        match self.unit {
            "" => self.text.clone(),
            unit => format!("{}{NBSP}{unit}", self.text),
        }
    }
}

impl From<&str> for Sentence {
    fn from(text: &str) -> Self {
        Self(vec![Piece::Text(text.to_owned())])
    }
}

impl From<String> for Sentence {
    fn from(text: String) -> Self {
        Self(vec![Piece::Text(text)])
    }
}

impl From<Piece> for Sentence {
    fn from(piece: Piece) -> Self {
        Self(vec![piece])
    }
}

/// Words that a user wrote. Control characters, which neither HTML nor SVG can hold, become U+FFFD.
pub(crate) fn quoted(text: &str) -> Piece {
    Piece::Quoted(printable(text))
}

/// The text with its control characters replaced.
pub(crate) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| {
            let is_bad = c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
            if is_bad {
                char::REPLACEMENT_CHARACTER
            } else {
                c
            }
        })
        .collect()
}

/// A link to another part of the page.
pub(crate) fn link(words: impl Into<Sentence>, anchor: impl Into<String>) -> Piece {
    Piece::Link {
        words: words.into(),
        anchor: anchor.into(),
    }
}

/// A sentence from words, numbers and other sentences.
macro_rules! say {
    ($($part:expr),* $(,)?) => {{
        #[allow(unused_mut)]
        let mut sentence = $crate::report::piece::Sentence::default();
        $(sentence.push($part);)*
        sentence
    }};
}
pub(crate) use say;
