//! Head of the report, and what must be read before anything else.

use crate::analysis::health::DefectKind;
use crate::analysis::signal::FlowSignal;
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

/// Said where the settings name no rated pressure.
pub(crate) const NO_RATING: &str = "The session file has no working_pressure_bar under [limits]: nothing here is \
     held against the lowest rating of pump, hose, gun and fittings. Look it up and stay below it.";

/// True where flow was counted in pulses and nobody said how many make a litre.
pub(crate) fn is_meter_unknown(f: &Findings) -> bool {
    f.settings.flow_meter.k_factor_per_m3.is_none()
        && matches!(f.signal.flow, FlowSignal::Edges { .. })
}

/// Place of the defect that says that no tip can pass the flow.
pub(crate) fn implausible_flow(f: &Findings) -> Option<usize> {
    let is_it = |kind| kind == DefectKind::FlowImplausible;
    f.defects.iter().position(|d| is_it(d.kind))
}

/// Notes about tips that look mistyped.
pub(crate) fn mistyped_tips(f: &Findings) -> impl Iterator<Item = &str> {
    let own = f.load_defects.iter().filter(|d| d.code == "tip_mistyped");
    own.map(|d| d.message.as_str())
}

/// Why no burst has a setting, with what to do.
pub(crate) fn no_verdict(f: &Findings) -> &'static str {
    if f.bursts.is_empty() {
        "No burst was found: the trigger was not pulled, or pressure and flow did not reach the logger."
    } else if f.notes.is_empty() {
        "There are no notes: write tip, coating and tails of each burst into notes.csv."
    } else {
        "No burst could be given to a setting: write tip and coating with each note, in the order of the bursts."
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
    if let Some(i) = implausible_flow(f) {
        out.push(Notice {
            heading: "Flow in doubt",
            text: say![
                quoted(&f.defects[i].consequence),
                ". Check the constant against the meter's label and repeat a timed catch before a flow is believed."
            ],
        });
    }
    if is_meter_unknown(f) {
        out.push(Notice {
            heading: "Flow not known",
            text: Sentence::from(
                "The session file has no constant of the meter: flows here may be wrong several times over, and \
                 what rests on them is not known. Only their ratios are. Write pulses_per_litre under \
                 [flow_meter] in session.toml.",
            ),
        });
    } else if f.signal.flow_meter.is_nominal && implausible_flow(f).is_none() {
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
    for message in mistyped_tips(f) {
        out.push(Notice {
            heading: "Tip mistyped?",
            text: say![quoted(message)],
        });
    }
    if f.settings.limits.working_pressure_pa.is_none() {
        out.push(Notice {
            heading: "No rating",
            text: Sentence::from(NO_RATING),
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
