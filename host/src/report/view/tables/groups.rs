//! Settings with their curves, and the supply curves.

use super::nothing;
use crate::analysis::nozzle_curve::{CurveForm, NozzleCurve};
use crate::analysis::supply_curve::{SupplyCurve, SupplyForm};
use crate::analysis::tail_threshold::TailThreshold;
use crate::estimate::Estimate;
use crate::findings::{Findings, GroupFinding};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, quoted, say};
use crate::report::view::table::{Row, Table, numbers, words};
use crate::report::view::verdict::setting_name;
use crate::report::wording::{count, refusal};

/// One row a group.
pub(super) fn groups(f: &Findings, show: Show) -> Table {
    Table {
        id: "groups",
        title: "Settings and their nozzle curves",
        caption: Sentence::from(
            "One tip with one coating in one condition a row. Flow at the reference pressure and exponent describe \
             the curve; \u{b1} covers 95 %, calibration included.",
        ),
        columns: vec![
            words("Setting"),
            numbers("Bursts", ""),
            numbers("Reference pressure", ""),
            numbers("Flow there", ""),
            numbers("Exponent n", ""),
            words("Form"),
            numbers("Tails gone", ""),
            numbers("Equivalent orifice", ""),
            numbers("of stamped", ""),
            numbers("Flow against earlier", ""),
        ],
        rows: f
            .groups
            .iter()
            .enumerate()
            .map(|(i, g)| row(f, show, i, g))
            .collect(),
    }
}

fn row(f: &Findings, show: Show, i: usize, g: &GroupFinding) -> Row {
    let key = |member: &str| format!("/groups/{i}/{member}");
    let optional = |kind, e: Option<&Estimate>, member: &str| {
        e.map_or_else(nothing, |e| show.estimate(kind, e, &key(member)))
    };
    let mut cells = vec![
        setting_name(f, show, i),
        count(show, g.group.burst_indices.len(), key("n_bursts")),
    ];
    match &g.curve {
        Ok(c) => cells.extend([
            show.plain(Kind::Pressure, c.power_law.p_ref_pa, key("curve/p_ref_pa")),
            show.estimate(
                Kind::Flow,
                &c.power_law.q_ref_m3_per_s,
                &key("curve/q_ref_m3_per_s"),
            ),
            show.estimate(Kind::Plain, &c.power_law.n, &key("curve/n")),
            form(show, c, &key("curve/two_term")),
        ]),
        Err(r) => cells.extend([
            nothing(),
            nothing(),
            nothing(),
            refusal(show, r, &key("curve_refusal")),
        ]),
    }
    cells.extend([
        threshold(show, &g.tail_threshold, &key("tail_threshold")),
        optional(
            Kind::Orifice,
            g.equivalent_orifice_m.as_ref(),
            "equivalent_orifice_m",
        ),
        optional(Kind::Percent, g.orifice_ratio.as_ref(), "orifice_ratio"),
        moved(
            optional(
                Kind::Percent,
                g.flow_ratio_to_baseline.as_ref(),
                "flow_ratio_to_baseline",
            ),
            g.flow_ratio_by_temperature.map(|_| {
                optional(
                    Kind::Percent,
                    g.flow_ratio_by_temperature.as_ref(),
                    "flow_ratio_by_temperature",
                )
            }),
        ),
    ]);
    Row {
        id: format!("group-{}", i + 1),
        is_quiet: g.curve.is_err(),
        cells,
    }
}

/// What became of the flow, and what of that the temperature explains.
fn moved(ratio: Sentence, by_temperature: Option<Sentence>) -> Sentence {
    match by_temperature {
        Some(expected) => say![ratio, "; by temperature alone ", expected],
        None => ratio,
    }
}

/// The form that the data prefer; both when they disagree.
fn form(show: Show, c: &NozzleCurve, key: &str) -> Sentence {
    let name = match c.preferred {
        CurveForm::PowerLaw => "power law",
        CurveForm::TwoTerm => "two terms",
    };
    let Some(two) = c.two_term.as_ref().filter(|_| c.forms_disagree) else {
        return Sentence::from(name);
    };
    let coefficients = say![
        "a = ",
        show.estimate(
            Kind::LinearTerm,
            &two.a_pa_s_per_m3,
            &format!("{key}/a_pa_s_per_m3")
        ),
        ", b = ",
        show.estimate(
            Kind::QuadraticTerm,
            &two.b_pa_s2_per_m6,
            &format!("{key}/b_pa_s2_per_m6")
        )
    ];
    match c.preferred {
        CurveForm::PowerLaw => say![
            "power law; two terms disagree with it inside the range: ",
            coefficients
        ],
        CurveForm::TwoTerm => say![
            "two terms: ",
            coefficients,
            "; the power law disagrees with them inside the range"
        ],
    }
}

fn threshold(show: Show, t: &TailThreshold, key: &str) -> Sentence {
    let at = |member: &str| format!("{key}/{member}");
    match t {
        TailThreshold::Between {
            interval_95_pa: i, ..
        } => show.between(
            Kind::Pressure,
            (i.low, at("low_95_pa")),
            (i.high, at("high_95_pa")),
        ),
        TailThreshold::Above {
            highest_with_tails_pa,
            ..
        } => say![
            "above ",
            show.plain(
                Kind::Pressure,
                *highest_with_tails_pa,
                at("highest_with_tails_pa")
            )
        ],
        TailThreshold::Below {
            lowest_without_pa, ..
        } => say![
            "below ",
            show.plain(
                Kind::Pressure,
                *lowest_without_pa,
                at("lowest_without_tails_pa")
            )
        ],
        TailThreshold::NoGrades => Sentence::from("not graded"),
    }
}

/// One row a control position.
pub(super) fn supply(f: &Findings, show: Show) -> Table {
    Table {
        id: "supply",
        title: "What the rig holds",
        caption: Sentence::from(
            "Supply curve at each control position. A limit that no burst reached is not known and stays empty.",
        ),
        columns: vec![
            words("Control"),
            numbers("Bursts", ""),
            words("Form"),
            numbers("Stalls at", ""),
            numbers("Hydraulic power", ""),
            numbers("Most flow", ""),
        ],
        rows: f
            .supply
            .iter()
            .enumerate()
            .map(|(i, s)| supply_row(show, i, s))
            .collect(),
    }
}

fn supply_row(show: Show, i: usize, s: &SupplyCurve) -> Row {
    let key = |member: &str| format!("/supply_curves/{i}/{member}");
    let mut cells = vec![
        if s.is_full {
            say![quoted(&s.dial), " (highest used)"]
        } else {
            quoted(&s.dial).into()
        },
        count(show, s.points.len(), key("n_points")),
    ];
    match &s.form {
        SupplyForm::Shaped {
            p_max_pa,
            power_w,
            q_max_m3_per_s,
            ..
        } => cells.extend([
            Sentence::from("control, power, strokes"),
            show.estimate(Kind::Pressure, p_max_pa, &key("p_max_pa")),
            power_w
                .as_ref()
                .map_or_else(nothing, |e| show.estimate(Kind::Power, e, &key("power_w"))),
            q_max_m3_per_s.as_ref().map_or_else(nothing, |e| {
                show.estimate(Kind::Flow, e, &key("q_max_m3_per_s"))
            }),
        ]),
        SupplyForm::Step { .. } => cells.extend([
            Sentence::from("step through the points"),
            nothing(),
            nothing(),
            nothing(),
        ]),
    }
    Row {
        id: String::new(),
        is_quiet: false,
        cells,
    }
}
