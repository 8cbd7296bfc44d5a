//! Questions at a terminal, one line each; testable through any reader and writer.

use std::io::{BufRead, Write};

use super::Stop;

/// One line, trimmed; `None` at the end of the input.
pub(super) fn line_or_end(
    input: &mut impl BufRead,
    out: &mut impl Write,
    question: &str,
) -> Result<Option<String>, Stop> {
    let mut answer = String::new();
    let read = write!(out, "{question}: ")
        .and_then(|()| out.flush())
        .and_then(|()| input.read_line(&mut answer))
        .map_err(gone)?;
    Ok((read > 0).then(|| answer.trim().to_owned()))
}

/// What the terminal said when it went.
fn gone(error: std::io::Error) -> Stop {
    Stop::failed(format!("the terminal is gone: {error}; nothing was made"))
}

/// One line, trimmed; empty at the end of the input.
fn line(input: &mut impl BufRead, out: &mut impl Write, question: &str) -> Result<String, Stop> {
    Ok(line_or_end(input, out, question)?.unwrap_or_default())
}

/// A text, or nothing.
pub(super) fn text(
    input: &mut impl BufRead,
    out: &mut impl Write,
    question: &str,
) -> Result<Option<String>, Stop> {
    let answer = line(input, out, question)?;
    Ok((!answer.is_empty()).then_some(answer))
}

/// Asks again until the answer is a number above zero, or empty.
pub(super) fn number(
    input: &mut impl BufRead,
    out: &mut impl Write,
    question: &str,
) -> Result<Option<f64>, Stop> {
    loop {
        let answer = line(input, out, question)?;
        if answer.is_empty() {
            return Ok(None);
        }
        match answer.replace(',', ".").parse::<f64>() {
            Ok(value) if value > 0.0 && value.is_finite() => return Ok(Some(value)),
            _ => {
                writeln!(out, "\"{answer}\" is not a number above zero").map_err(gone)?;
            }
        }
    }
}

/// Several texts with commas between.
pub(super) fn list(
    input: &mut impl BufRead,
    out: &mut impl Write,
    question: &str,
) -> Result<Vec<String>, Stop> {
    let answer = line(input, out, question)?;
    Ok(answer
        .split(',')
        .map(|part| part.trim().to_owned())
        .filter(|part| !part.is_empty())
        .collect())
}
