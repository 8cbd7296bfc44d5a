//! One cell of text to a value, or what is wrong with it.

use super::fault::What;

/// A finite decimal number with `.` as decimal sign; `None` for an empty cell.
///
/// Grouping, decimal commas, hexadecimal, `inf` and `NaN` are refused: each of them is more
/// often a slip than a reading.
pub(super) fn number(cell: &str) -> Result<Option<f64>, What> {
    if cell.is_empty() {
        return Ok(None);
    }
    let is_plain = cell
        .bytes()
        .all(|b| matches!(b, b'0'..=b'9' | b'.' | b'-' | b'+' | b'e' | b'E'));
    let value = if is_plain {
        cell.parse::<f64>().ok()
    } else {
        None
    };
    match value.filter(|v| v.is_finite()) {
        Some(value) => Ok(Some(value)),
        None => Err(What::NotANumber { cell: clip(cell) }),
    }
}

/// A finite number from `low` to `high`, both included.
pub(super) fn number_within(cell: &str, low: f64, high: f64) -> Result<Option<f64>, What> {
    match number(cell)? {
        Some(value) if value < low || value > high => Err(What::OutOfRange { value, low, high }),
        other => Ok(other),
    }
}

/// A count: a whole number, also when a spreadsheet wrote it as `3.0`.
pub(super) fn count(cell: &str) -> Result<Option<u32>, What> {
    if cell.is_empty() {
        return Ok(None);
    }
    let digits = cell
        .split_once('.')
        .filter(|(_, zeros)| zeros.bytes().all(|b| b == b'0'))
        .map_or(cell, |(whole, _)| whole);
    let is_plain = digits.bytes().all(|b| b.is_ascii_digit());
    let value = if is_plain {
        digits.parse::<u32>().ok()
    } else {
        None
    };
    value
        .map(Some)
        .ok_or_else(|| What::NotACount { cell: clip(cell) })
}

/// One of the digits 0 to `most`.
pub(super) fn digit(cell: &str, most: u8, allowed: &'static str) -> Result<Option<u8>, What> {
    let not_allowed = || What::NotOneOf {
        cell: clip(cell),
        allowed,
    };
    match count(cell).map_err(|_| not_allowed())? {
        None => Ok(None),
        Some(value) => u8::try_from(value)
            .ok()
            .filter(|v| *v <= most)
            .map(Some)
            .ok_or_else(not_allowed),
    }
}

/// Free text; `None` for an empty cell.
pub(super) fn text(cell: &str) -> Option<String> {
    (!cell.is_empty()).then(|| cell.to_owned())
}

/// A cell short enough for a message, control characters shown as escapes.
pub(super) fn clip(cell: &str) -> String {
    const MOST: usize = 40;
    let mut shown: String = cell
        .chars()
        .take(MOST)
        .flat_map(|c| {
            let escaped = if c.is_control() {
                Some(c.escape_default())
            } else {
                None
            };
            let plain = if c.is_control() { None } else { Some(c) };
            escaped.into_iter().flatten().chain(plain)
        })
        .collect();
    if cell.chars().nth(MOST).is_some() {
        shown.push('…');
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(cell: &str, expected: Option<Option<f64>>) {
        assert_eq!(number(cell).ok(), expected, "{cell:?}");
    }

    #[test]
    fn a_number_is_plain_and_finite() {
        check("", Some(None));
        check("61.5", Some(Some(61.5)));
        check("-.5e1", Some(Some(-5.0)));
        check("+3.", Some(Some(3.0)));
        for refused in [
            "61,5", "nan", "inf", "-inf", "NaN", "infinity", "1e999", "0x10", "1 000", "-", "e",
            "1.2.3",
        ] {
            check(refused, None);
        }
    }

    #[test]
    fn a_count_is_whole_and_not_negative() {
        assert_eq!(count("17"), Ok(Some(17)));
        assert_eq!(count("3.00"), Ok(Some(3)));
        for refused in ["-1", "2.5", "4294967296", ".", ".0", "1e3", "+1"] {
            assert!(count(refused).is_err(), "{refused}");
        }
    }

    #[test]
    fn a_long_cell_is_clipped_and_control_characters_are_escaped() {
        assert_eq!(clip("a\u{1b}[31m"), "a\\u{1b}[31m");
        assert_eq!(clip(&"x".repeat(100)).chars().count(), 41);
    }
}
