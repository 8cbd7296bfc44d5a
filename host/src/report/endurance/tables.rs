//! Tables of a cordless check: tips against the supply, settings with their powers and run times.

use super::words::interval;
use crate::analysis::answer::Answer;
use crate::analysis::plan::PlanReason;
use crate::energy_findings::{BatteryFindings, SettingEnergy, TipHeld};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, quoted, say};
use crate::report::view::{Row, Table, numbers, words};
use crate::report::wording::count;

/// Anchors and headings, first battery and second.
const TIPS: [(&str, &str); 2] = [
    ("tips", "Which tips it holds"),
    ("tips-2", "Which tips the second battery holds"),
];
const SETTINGS: [(&str, &str); 2] = [
    ("settings", "Power, efficiency and run time"),
    (
        "settings-2",
        "Power, efficiency and run time, second battery",
    ),
];

fn nothing() -> Sentence {
    Sentence::from("\u{2013}")
}

/// One row a tip.
pub(super) fn tips(show: Show, i: usize, b: &BatteryFindings) -> Table {
    let (id, title) = TIPS[i.min(1)];
    Table {
        id,
        title,
        caption: Sentence::from(
            "Pressure at full control with each tip of the session; 95 % intervals. A tip without bursts and grades \
             of its own is carried over from those measured in the same coating.",
        ),
        columns: vec![
            words("Tip"),
            numbers("Orifice", ""),
            words("Held above the tails"),
            numbers("Pressure held", ""),
            numbers("Flow there", ""),
            words("From"),
        ],
        rows: b
            .tips
            .iter()
            .enumerate()
            .map(|(n, t)| tip_row(show, &format!("/batteries/{i}/tips/{n}"), t))
            .collect(),
    }
}

fn tip_row(show: Show, key: &str, t: &TipHeld) -> Row {
    let orifice = show.plain(
        Kind::Orifice,
        t.orifice_m,
        format!("{key}/orifice_diameter_m"),
    );
    let mut cells = vec![say![quoted(&t.tip)], orifice];
    match &t.held {
        Ok(h) => cells.extend([
            Sentence::from(answer(h.answer, h.reason, t.is_measured)),
            interval(
                show,
                Kind::Pressure,
                &h.pressure_pa,
                &format!("{key}/held_pa"),
            ),
            h.flow_m3_per_s.as_ref().map_or_else(nothing, |q| {
                interval(show, Kind::Flow, q, &format!("{key}/flow_m3_per_s"))
            }),
            Sentence::from(match (t.is_measured, h.is_extrapolated) {
                (true, _) => "its own bursts",
                (false, false) => "other tips",
                (false, true) => "other tips, beyond what was measured",
            }),
        ]),
        Err(e) => cells.extend([
            say!["not known: ", quoted(&e.to_string())],
            nothing(),
            nothing(),
            nothing(),
        ]),
    }
    Row {
        id: String::new(),
        is_quiet: t.held.is_err(),
        cells,
    }
}

const fn answer(answer: Answer, reason: PlanReason, is_measured: bool) -> &'static str {
    match (answer, reason) {
        (Answer::Yes, _) => "yes",
        (Answer::No, PlanReason::AboveRating) => {
            "no: the coating needs more than the lowest rating allows"
        }
        (Answer::No, _) => "no",
        (Answer::CannotTell, PlanReason::NeedUnknown) => "cannot tell: grade the tails of one tip",
        (Answer::CannotTell, _) if is_measured => "cannot tell: too close to the tails",
        (Answer::CannotTell, _) => "cannot tell without bursts at full control",
    }
}

/// One row a setting.
pub(super) fn settings(show: Show, i: usize, b: &BatteryFindings) -> Table {
    let (id, title) = SETTINGS[i.min(1)];
    Table {
        id,
        title,
        caption: Sentence::from(
            "Means over the bursts of each setting; \u{b1} covers 95 %, calibration included. Efficiency: \
             hydraulic power at the tap over power from the battery.",
        ),
        columns: vec![
            words("Setting"),
            numbers("Bursts", ""),
            numbers("Pressure", ""),
            numbers("From the battery", ""),
            numbers("Into the coating", ""),
            numbers("Efficiency", ""),
            numbers("Run time", ""),
            numbers("of it spraying", ""),
        ],
        rows: (0..b.energy.settings.len())
            .map(|n| setting_row(show, &format!("/batteries/{i}/settings/{n}"), b, n))
            .collect(),
    }
}

fn setting_row(show: Show, key: &str, b: &BatteryFindings, n: usize) -> Row {
    let s: &SettingEnergy = &b.energy.settings[n];
    let value = |kind, e: &crate::estimate::Estimate, name: &str| {
        show.estimate(kind, e, &format!("{key}/{name}"))
    };
    let time = b.run_times.iter().find(|r| r.setting_index == n);
    let time = time.and_then(|t| t.run_time.as_ref().ok());
    let minutes = |t: Option<&crate::estimate::bracketed::Bracketed>, name: &str| {
        t.map_or_else(nothing, |t| {
            interval(show, Kind::Minutes, t, &format!("{key}/{name}"))
        })
    };
    Row {
        id: String::new(),
        is_quiet: !s.is_full,
        cells: vec![
            say![
                super::words::setting(&s.tip, &s.material),
                ", control ",
                quoted(&s.dial)
            ],
            count(show, s.n_bursts, format!("{key}/n_bursts")),
            value(Kind::Pressure, &s.pressure_pa, "pressure_pa"),
            value(Kind::Power, &s.electric_w, "electric_w"),
            value(Kind::Power, &s.hydraulic_w, "hydraulic_w"),
            match &s.efficiency {
                Ok(e) => value(Kind::Percent, e, "efficiency_ratio"),
                Err(e) => say!["not known: ", quoted(&e.to_string())],
            },
            minutes(time.map(|t| &t.elapsed_s), "run_time_s"),
            minutes(time.map(|t| &t.spraying_s), "spraying_time_s"),
        ],
    }
}
