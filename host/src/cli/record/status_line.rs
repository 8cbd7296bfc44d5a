//! The one line that says how the recording goes: rewritten each second on a terminal, otherwise
//! printed when something changes and once a minute.

use std::io::{IsTerminal, Write};

use crate::record::status::{LineState, Status};

/// Without a terminal, a line is printed at least this often, s.
const QUIET_S: f64 = 60.0;

pub(super) struct StatusLine {
    name: String,
    is_terminal: bool,
    shown: Option<(LineState, Vec<String>)>,
    shown_at_s: f64,
    width: usize,
}

impl StatusLine {
    pub(super) fn new(name: String) -> Self {
        Self {
            name,
            is_terminal: std::io::stderr().is_terminal(),
            shown: None,
            shown_at_s: f64::NEG_INFINITY,
            width: 0,
        }
    }

    pub(super) fn show(&mut self, status: &Status) {
        let now = (status.line, status.warnings.clone());
        let is_new = self.shown.as_ref() != Some(&now);
        if is_new {
            self.warn(status);
            self.shown = Some(now);
        }
        let text = line(&self.name, status);
        if self.is_terminal {
            let blank = " ".repeat(self.width.saturating_sub(text.chars().count()));
            self.width = text.chars().count();
            let mut out = std::io::stderr().lock();
            // A terminal that is gone must not end the recording.
            let _ = write!(out, "\r{text}{blank}");
            let _ = out.flush();
        } else if is_new || status.elapsed_s - self.shown_at_s >= QUIET_S {
            self.shown_at_s = status.elapsed_s;
            let _ = writeln!(std::io::stderr(), "{text}");
        }
    }

    /// Ends the line, so that what follows stands on its own.
    pub(super) fn end(&mut self) {
        if self.is_terminal && self.width > 0 {
            let _ = writeln!(std::io::stderr());
        }
        self.width = 0;
    }

    fn warn(&mut self, status: &Status) {
        let known = self.shown.as_ref().map(|(_, warnings)| warnings.clone());
        let known = known.unwrap_or_default();
        for warning in status.warnings.iter().filter(|w| !known.contains(w)) {
            self.end();
            let text = format!("{}: {warning}", clock(status.elapsed_s));
            let _ = writeln!(
                std::io::stderr(),
                "{}",
                crate::cli::terminal::warning(&text)
            );
        }
    }
}

fn line(name: &str, status: &Status) -> String {
    let state = match status.line {
        LineState::Waiting => "waiting for the logger",
        LineState::OnLine => "recording",
        LineState::Silent => "logger silent",
        LineState::Garbled => "no logger's data",
        LineState::Absent => "logger gone, looking for it",
        LineState::Ended => "ended",
    };
    let mut parts = vec![
        format!("{name} {}", clock(status.elapsed_s)),
        state.to_owned(),
        format!("{:.0} samples/s", status.sample_rate_hz),
        format!(
            "{} samples and {} pulses lost",
            status.samples_lost, status.edges_lost
        ),
        format!("log {}", size(status.log_bytes)),
    ];
    if status.held_bytes > 0 {
        parts.push(format!("{} wait in memory", size(status.held_bytes)));
    }
    if let Some(free) = status.disk_free_bytes {
        parts.push(format!("disk {} free", size(free)));
    }
    parts.join(" | ")
}

fn clock(elapsed_s: f64) -> String {
    let s = elapsed_s.max(0.0).floor();
    format!(
        "{:02.0}:{:02.0}:{:02.0}",
        (s / 3600.0).floor(),
        (s / 60.0).floor() % 60.0,
        s % 60.0
    )
}

#[expect(clippy::cast_precision_loss, reason = "shown with two digits")]
fn size(bytes: u64) -> String {
    let steps = ["B", "kB", "MB", "GB", "TB"];
    let mut value = bytes as f64;
    let mut step = 0;
    while value >= 1000.0 && step + 1 < steps.len() {
        value /= 1000.0;
        step += 1;
    }
    let decimals = usize::from(step > 0 && value < 10.0);
    format!("{value:.decimals$} {}", steps[step])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_line_says_rate_losses_disk_and_time() {
        let status = Status {
            line: LineState::OnLine,
            elapsed_s: 3_725.4,
            sample_rate_hz: 499.7,
            samples_lost: 12,
            log_bytes: 5_234_000,
            disk_free_bytes: Some(53_000_000_000),
            ..Status::default()
        };
        assert_eq!(
            line("yard-03", &status),
            "yard-03 01:02:05 | recording | 500 samples/s | 12 samples and 0 pulses lost | log 5.2 MB | \
             disk 53 GB free"
        );
    }
}
