//! Head of the report, and what must be read before anything else.

use crate::findings::Findings;
use crate::recording::settings::Tap;
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::report::wording::{count, defect_name};

/// Head of the page.
pub(crate) struct Header {
    /// Name of the recording.
    pub(crate) name: String,
    /// Rig, date, duration, tap: one line.
    pub(crate) line: Sentence,
}

/// A notice with its heading.
pub(crate) struct Notice {
    /// Two or three words.
    pub(crate) heading: &'static str,
    /// The rest.
    pub(crate) text: Sentence,
}

/// Name, rig, date and size of the recording.
pub(super) fn header(f: &Findings, show: Show) -> Header {
    let mut line = Sentence::default();
    if let Some(date) = &f.settings.date {
        line.push(say![quoted(date), " \u{b7} "]);
    }
    if let Some(rig) = &f.settings.rig {
        line.push(say![quoted(rig), " \u{b7} "]);
    }
    line.push(count(show, f.bursts.len(), "/recording/n_bursts"));
    line.push(if f.bursts.len() == 1 {
        " burst in "
    } else {
        " bursts in "
    });
    let ends = f.signal.t_s.first().zip(f.signal.t_s.last());
    line.push(match ends {
        Some((from, to)) => show.fixed(Kind::Time, to - from, 0, "/recording/duration_s"),
        None => Sentence::from("an empty recording"),
    });
    line.push(match f.settings.tap {
        Tap::PumpOutlet => " \u{b7} pressure taken at the pump outlet",
        Tap::GunInlet => " \u{b7} pressure taken at the gun inlet",
    });
    Header {
        name: printable(&f.name),
        line,
    }
}

/// What must be known before a number is read.
pub(super) fn notices(f: &Findings, show: Show) -> Vec<Notice> {
    let mut out = Vec::new();
    if f.is_simulated {
        out.push(Notice {
            heading: "Simulated data",
            text: Sentence::from(
                "A simulated rig made this recording. No paint was sprayed; do not set a real rig by it.",
            ),
        });
    }
    if f.signal.flow_meter.is_nominal {
        let u = f.signal.flow_meter.u_pulse_volume_ratio;
        out.push(Notice {
            heading: "Meter not calibrated",
            text: say![
                "Every flow rests on the meter maker's nominal constant and may be off by ",
                show.plain(
                    Kind::Percent,
                    2.0 * u,
                    "/recording/flow_meter/expanded_95_pulse_volume_ratio"
                ),
                ". Pressures are not touched by it."
            ],
        });
    }
    let fatal: Vec<&'static str> = {
        let mut names: Vec<_> = f
            .defects
            .iter()
            .filter(|d| d.is_fatal)
            .map(|d| defect_name(d.kind))
            .collect();
        names.dedup();
        names
    };
    if !fatal.is_empty() {
        out.push(Notice {
            heading: "Readings not sound",
            text: say![
                fatal.join(", "),
                ": results that rest on these stretches are left out; see ",
                crate::report::piece::link("health", "health"),
                "."
            ],
        });
    }
    out
}
