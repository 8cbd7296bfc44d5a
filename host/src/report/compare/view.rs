//! What a comparison shows: words and rounded numbers in the reader's units, without markup.

use super::Compared;
use super::words::{self, cause};
use crate::analysis::compare::Calibration;
use crate::findings::Findings;
use crate::pipeline::compare_days::{DaysDifference, DaysMove, NozzleMove, SupplyMove};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::report::view::setting_name;

/// The whole comparison.
pub(super) struct CompareView {
    pub(super) title: String,
    pub(super) notices: Vec<Sentence>,
    pub(super) days: Vec<DayView>,
}

/// One later recording.
pub(super) struct DayView {
    pub(super) title: String,
    pub(super) notes: Vec<Sentence>,
    pub(super) parts: Vec<PartView>,
    pub(super) left_out: Vec<Sentence>,
}

/// One setting, or the pump where no setting is common.
pub(super) struct PartView {
    pub(super) heading: Sentence,
    pub(super) facts: Vec<Sentence>,
    /// "The nozzle curve moved", "cannot tell".
    pub(super) state: &'static str,
    pub(super) headline: String,
    pub(super) advice: Vec<(&'static str, Option<&'static str>)>,
    /// Index of the nozzle comparison; `None` for the pump alone.
    pub(super) nozzle: Option<usize>,
}

impl CompareView {
    pub(super) fn new(compared: &Compared, show: Show) -> Self {
        let before = compared.before;
        let mut notices = Vec::new();
        if before.is_simulated {
            notices.push(Sentence::from(
                "Simulated data: no paint was sprayed; do not set a real rig by it.",
            ));
        }
        Self {
            title: format!("Compared with {}", name_and_date(before)),
            notices,
            days: compared
                .later
                .iter()
                .enumerate()
                .map(|(i, (after, moved))| day(before, after, moved, show, i))
                .collect(),
        }
    }
}

/// Name with date, where it is known.
fn name_and_date(f: &Findings) -> String {
    let name = printable(&f.name);
    match &f.settings.date {
        Some(date) => format!("{name} ({})", printable(date)),
        None => name,
    }
}

fn day(
    before: &Findings,
    after: &Findings,
    moved: &DaysMove,
    show: Show,
    day_index: usize,
) -> DayView {
    let key = |member: &str| format!("/comparisons/{day_index}/{member}");
    let supply = supply_facts(moved, show, &key);
    let mut parts: Vec<PartView> = moved
        .nozzles
        .iter()
        .enumerate()
        .map(|(i, n)| nozzle_part(before, after, moved, (i, n), show, &key, &supply))
        .collect();
    if parts.is_empty() {
        let cause = cause(before, after, None, moved.supply.as_ref().ok());
        parts.push(PartView {
            heading: Sentence::from("The pump alone"),
            facts: supply,
            state: cause.state,
            headline: cause.headline,
            advice: cause.advice,
            nozzle: None,
        });
    }
    let left_out = [
        (&moved.only_after, after, before),
        (&moved.only_before, before, after),
    ]
    .into_iter()
    .filter(|(list, _, _)| !list.is_empty())
    .map(|(list, has, misses)| {
        let names: Vec<String> = list
            .iter()
            .map(|i| setting_name(has, show, *i).to_text())
            .collect();
        say![
            "Only in ",
            quoted(&has.name),
            ", no counterpart in ",
            quoted(&misses.name),
            ": ",
            names.join("; "),
            "."
        ]
    })
    .collect();
    DayView {
        title: format!("{} against {}", name_and_date(after), name_and_date(before)),
        notes: notes(before, after, moved),
        parts,
        left_out,
    }
}

fn notes(before: &Findings, after: &Findings, moved: &DaysMove) -> Vec<Sentence> {
    let mut out: Vec<Sentence> = moved
        .differences
        .iter()
        .map(|d| match d {
            DaysDifference::Rig => say![
                "Two rigs: ",
                quoted(before.settings.rig.as_deref().unwrap_or_default()),
                " and ",
                quoted(after.settings.rig.as_deref().unwrap_or_default()),
                ". The pumps are not compared; a tip's own curve is, with both calibrations in doubt."
            ],
            DaysDifference::Tap => Sentence::from(
                "The pressure was taken at two places (pump outlet and gun inlet): nothing can be compared without the \
                 hose between them.",
            ),
            DaysDifference::FlowMeter => Sentence::from(
                "The flow meters or their constants differ: the doubt of both calibrations is in every number.",
            ),
            DaysDifference::PressureSensor => Sentence::from(
                "The pressure sensors differ: the doubt of both calibrations is in every number.",
            ),
            DaysDifference::OrderUnknown => Sentence::from(
                "Neither start nor date says which came first: taken in the order given.",
            ),
        })
        .collect();
    if moved.calibration == Calibration::Shared && before.signal.flow_meter.is_nominal {
        out.push(Sentence::from(
            "The meter is not calibrated; as both days use the same one, its error cancels.",
        ));
    }
    out
}

fn nozzle_part(
    before: &Findings,
    after: &Findings,
    moved: &DaysMove,
    (index, n): (usize, &NozzleMove),
    show: Show,
    key: &dyn Fn(&str) -> String,
    supply: &[Sentence],
) -> PartView {
    let own = |member: &str| key(&format!("nozzles/{index}/{member}"));
    let mut facts = nozzle_facts(n, show, &own);
    facts.extend(supply.iter().cloned());
    let cause = cause(before, after, Some(n), moved.supply.as_ref().ok());
    PartView {
        heading: heading(after, n, &own, show),
        facts,
        state: cause.state,
        headline: cause.headline,
        advice: cause.advice,
        nozzle: Some(index),
    }
}

/// Tip, coating, thinner, temperature of the later recording, with keys of the comparison's own document.
fn heading(after: &Findings, n: &NozzleMove, own: &dyn Fn(&str) -> String, show: Show) -> Sentence {
    let group = &after.groups[n.after_group].group;
    let mut out = match group.tip.as_str() {
        "" => Sentence::from("No tip noted"),
        code => say!["Tip ", quoted(code)],
    };
    if !group.material.is_empty() {
        out.push(say![", ", quoted(&group.material)]);
    }
    if group.thinner_ratio > 0.0 {
        let thinner = show.plain(Kind::Percent, group.thinner_ratio, own("thinner_ratio"));
        out.push(say![", ", thinner, " thinner"]);
    }
    if let Some(k) = group.material_k.filter(|k| k.is_finite()) {
        out.push(say![
            ", ",
            show.fixed(Kind::Temperature, k, 0, own("after_k"))
        ]);
    }
    out
}

fn nozzle_facts(n: &NozzleMove, show: Show, own: &dyn Fn(&str) -> String) -> Vec<Sentence> {
    let pair = match &n.result {
        Err(e) => return vec![say!["Nozzle curve: not compared: ", e.to_string(), "."]],
        Ok(pair) => pair,
    };
    let flow = &pair.measured.flow;
    let mut out = vec![say![
        "Nozzle curve: flow at ",
        show.plain(
            Kind::Pressure,
            pair.measured.pressure_pa,
            own("pressure_pa")
        ),
        " ",
        words::moved(flow.change),
        ": ",
        words::change_with_interval(show, flow, &own("flow_change")),
        "."
    ]];
    if let Some(by_k) = n.by_k {
        let mut line = say![
            "The coating was ",
            show.fixed(Kind::TemperatureDifference, by_k.abs(), 0, own("abs_by_k")),
            if by_k > 0.0 { " warmer" } else { " colder" },
        ];
        line.push(match (&pair.explained, &pair.left) {
            (Some(_), Some(left)) => say![
                "; without what that makes, the flow ",
                words::moved(left.change),
                ": ",
                words::change_with_interval(show, left, &own("left_change")),
                "."
            ],
            _ => Sentence::from(
                ", and how much that makes is not known: viscosity at two temperatures is missing in session.toml.",
            ),
        });
        out.push(line);
    } else if n.temperature_unknown {
        out.push(Sentence::from(
            "The coating's temperature was not logged on both days: a colder or warmer coating moves the curve too.",
        ));
    }
    let e = &pair.measured.exponent_difference;
    out.push(say![
        "Its bend (exponent) ",
        words::moved(pair.measured.exponent_change),
        ": ",
        show.plus_minus(
            Kind::Plain,
            (e.value, own("exponent_difference/value")),
            (e.expanded_95(), own("exponent_difference/expanded_95"))
        ),
        "."
    ]);
    out
}

fn supply_facts(moved: &DaysMove, show: Show, key: &dyn Fn(&str) -> String) -> Vec<Sentence> {
    match &moved.supply {
        Err(e) => vec![say!["Pump: not compared: ", e.to_string(), "."]],
        Ok(s) => {
            let mut out = vec![say![
                "Pump: the pressure held at control position \u{201c}",
                quoted(&s.dial),
                "\u{201d} and ",
                show.plain(Kind::Flow, s.flow_m3_per_s, key("supply/flow_m3_per_s")),
                " ",
                words::moved(s.ratio.change),
                ": ",
                words::change_with_interval(show, &s.ratio, &key("supply/pressure_change")),
                "."
            ]];
            out.extend(voltage(s, show, key));
            out
        }
    }
}

fn voltage(s: &SupplyMove, show: Show, key: &dyn Fn(&str) -> String) -> Option<Sentence> {
    let (before, after) = s.supply_v?;
    Some(say![
        "Supply voltage while spraying: ",
        show.plain(Kind::Voltage, before, key("supply/before_v")),
        " then, ",
        show.plain(Kind::Voltage, after, key("supply/after_v")),
        " now."
    ])
}
