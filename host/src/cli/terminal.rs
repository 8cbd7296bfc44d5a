//! Colour, progress and line ends: colour only on a terminal and only without `NO_COLOR`, progress only where
//! somebody watches, lines broken between words only where they would be broken within one.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressStyle};

/// True when standard error may be coloured.
fn has_colour() -> bool {
    std::io::stderr().is_terminal()
        && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
}

/// Columns of a terminal; `None` where the text goes to a file or to a program, which want it unbroken.
fn columns(term: &console::Term) -> Option<usize> {
    let (_, columns) = term.size_checked()?;
    term.is_term().then_some(usize::from(columns))
}

/// The text with lines longer than `columns` broken between words, what follows set in below its beginning.
///
/// Runs of spaces within a line (columns of a table) stay; a word longer than the line stays whole, so that a path can be
/// copied.
fn wrap(text: &str, columns: Option<usize>) -> String {
    let Some(columns) = columns.filter(|c| *c >= 20) else {
        return text.to_owned();
    };
    let lines: Vec<String> = text
        .split('\n')
        .map(|line| wrap_line(line, columns))
        .collect();
    lines.join("\n")
}

fn wrap_line(line: &str, columns: usize) -> String {
    let words = line.trim_start_matches(' ');
    let words = words.strip_prefix("- ").unwrap_or(words);
    let lead = &line[..line.len() - words.len()];
    let indent = " ".repeat(lead.len().min(columns / 2));
    let how = textwrap::Options::new(columns)
        .initial_indent(lead)
        .subsequent_indent(&indent)
        .break_words(false)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::wrap(words, how).join("\n")
}

/// A line on standard error that begins with a painted word.
fn beginning(code: &str, word: &str, message: &str) -> String {
    let broken = wrap(
        &format!("{word} {message}"),
        columns(&console::Term::stderr()),
    );
    broken.replacen(word, &paint(code, word), 1)
}

fn paint(code: &str, text: &str) -> String {
    if has_colour() {
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    } else {
        text.to_owned()
    }
}

/// An error line.
pub(super) fn error(message: &str) -> String {
    beginning("1;31", "error:", message)
}

/// A line of advice below an error.
pub(super) fn hint(message: &str) -> String {
    beginning("1", "hint:", message)
}

/// A bar on standard error, hidden when that is no terminal.
pub(super) fn progress(steps: usize) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(u64::try_from(steps).unwrap_or(u64::MAX));
    if let Ok(style) = ProgressStyle::with_template("{bar:24} {pos}/{len} {msg}") {
        bar.set_style(style);
    }
    bar
}

/// A warning line.
pub(super) fn warning(message: &str) -> String {
    beginning("1;33", "warning:", message)
}

/// Prints to standard output. A reader that has seen enough (`| head`) closes it: that is no fault.
pub(super) fn print(text: &str) {
    use std::io::Write;
    // JSON stays as a program wrote it, on a terminal too: broken strings could not be copied out.
    let is_json = text.starts_with(['{', '[']);
    let term = console::Term::stdout();
    let text = wrap(text, columns(&term).filter(|_| !is_json));
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_break_between_words_and_hang_below_their_beginning() {
        let text = "  - Settle it: one burst with this tip.\nshort\n";
        let expected = "  - Settle it: one burst\n    with this tip.\nshort\n";
        assert_eq!(wrap(text, Some(24)), expected);
        assert_eq!(wrap(text, None), text, "a file gets it unbroken");
        for columns in 20..60 {
            let broken = wrap(text, Some(columns));
            assert!(
                broken.lines().all(|l| l.chars().count() <= columns),
                "{broken}"
            );
            let words = |t: &str| t.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
            assert_eq!(words(&broken), words(text));
        }
    }

    #[test]
    fn a_path_stays_whole_and_columns_of_a_table_stay_apart() {
        let path = "page: /a/very/long/path/to/a/page/somewhere.html";
        assert_eq!(
            wrap(path, Some(20)),
            "page:\n/a/very/long/path/to/a/page/somewhere.html"
        );
        let item = "  - /a/very/long/path/of/a/page is there";
        assert_eq!(
            wrap(item, Some(20)),
            "  - /a/very/long/path/of/a/page\n    is there"
        );
        assert_eq!(wrap("Tip  Orifice  Set", Some(40)), "Tip  Orifice  Set");
        assert!(wrap("aaaa  bbbb  cccc  dddd  eeee", Some(22)).starts_with("aaaa  bbbb  cccc"));
    }
}
