//! Colour and progress: colour only on a terminal and only without `NO_COLOR`, progress only where
//! somebody watches.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressStyle};

/// True when standard error may be coloured.
fn has_colour() -> bool {
    std::io::stderr().is_terminal()
        && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
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
    format!("{} {message}", paint("1;31", "error:"))
}

/// A line of advice below an error.
pub(super) fn hint(message: &str) -> String {
    format!("{} {message}", paint("1", "hint:"))
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
    format!("{} {message}", paint("1;33", "warning:"))
}

/// Prints to standard output. A reader that has seen enough (`| head`) closes it: that is no fault.
pub(super) fn print(text: &str) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}
