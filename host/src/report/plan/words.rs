//! One tip's plan in words: answer, what is held, what is needed, what would have to change.

use crate::analysis::answer::Answer;
use crate::analysis::plan::outlook::{Closes, Outlook, TailFree};
use crate::analysis::plan::{Change, PlanError, PlanReason};
use crate::analysis::verdict::{Advice, VerdictKind, advice_for};
use crate::estimate::bracketed::Bracketed;
use crate::pipeline::plan_box::{BoxPlan, TipPlan, TipState};
use crate::report::cautions::{Caution, beside_advice};
use crate::report::number::{Kind, NBSP, Show, setting_decimals};
use crate::report::piece::{printable, say};
use crate::units::{Metre, OrificeUnit, Pascal};

/// Everything that is said of one tip; a caution that was said before is not repeated.
pub(super) fn tip_lines(
    plan: &BoxPlan,
    tip: &TipPlan,
    show: Show,
    said: &mut Vec<Caution>,
) -> Vec<String> {
    let code = printable(&tip.tip.code);
    let o = match &tip.outlook {
        Err(e) => {
            return vec![
                format!("Tip {code}: not known."),
                format!("  {}.", refusal(e, show)),
            ];
        }
        Ok(o) => o,
    };
    let mut lines = vec![format!(
        "Tip {code}: {}. {}",
        answer_word(o),
        basis(plan, tip)
    )];
    lines.push(format!(
        "  Supply: the rig holds {}.",
        held_sentence(o, show)
    ));
    lines.push(format!("  Atomisation: {}.", need_sentence(tip, o, show)));
    lines.push(format!("  {}", reason(o, plan, show)));
    if let Some(pa) = o.set_pa {
        let cap = plan.rated_pa.unwrap_or(f64::INFINITY).min(o.held.high_pa);
        let mut set = format!("  Set {}", show.setting(pa, Some(cap), "").to_text());
        if let Some(q) = o.flow_at_set_m3_per_s {
            let flow = show.plus_minus(
                Kind::Flow,
                (q.value, String::new()),
                (q.expanded_95(), String::new()),
            );
            set.push_str(&format!("; {} comes out there", flow.to_text()));
        }
        lines.push(format!("{set}."));
    }
    for (text, caution) in changes(plan, o, show) {
        lines.push(format!("  - {text}"));
        if let Some(caution) = caution.filter(|c| !said.contains(c)) {
            said.push(caution);
            lines.push(format!("    Caution. {}", caution.text()));
        }
    }
    lines
}

/// Yes, no or not known.
pub(super) const fn answer_word(o: &Outlook) -> &'static str {
    match (o.answer, o.closes) {
        (Answer::Yes, _) => "yes",
        (Answer::No, Closes::Supply) => "no, supply limit",
        (Answer::No, Closes::Atomisation) => "no, atomisation limit",
        (Answer::No, Closes::Rating) => "no, above the rating",
        (Answer::No, _) => "no",
        (Answer::CannotTell, _) => "not known",
    }
}

/// Where the curve is from.
fn basis(plan: &BoxPlan, tip: &TipPlan) -> String {
    let Some(measured) = &tip.measured else {
        let from: Vec<String> = tip.from_tips.iter().map(|t| printable(t)).collect();
        return format!("Not measured: predicted from tip {}.", from.join(", "));
    };
    let name = plan
        .names
        .get(measured.source)
        .map_or_else(String::new, |n| printable(n));
    let state = match measured.state {
        TipState::Sound => "",
        TipState::BlockedLater => {
            " It was blocked in the end and is planned as it was before: clean it and spray one burst, then set a pressure."
        }
        TipState::Blocked => " It was blocked then: clean it and record again.",
        TipState::Worn => " It is worn and planned as it is: a new one passes less.",
    };
    format!("Measured itself in {name}.{state}")
}

/// "118 bar (105 to 125 bar)"; a pressure no finer than a gauge is read.
fn bracket(show: Show, kind: Kind, b: &Bracketed) -> String {
    let i = b.interval_95;
    if kind == Kind::Pressure {
        let set = |pa: f64| show.setting(pa, None, "").to_text();
        return format!("{} ({})", set(b.value), range(&set(i.low), &set(i.high)));
    }
    let value = show.rounded(kind, b.value, 0.5 * (i.high - i.low), "");
    let between = show.between(kind, (i.low, String::new()), (i.high, String::new()));
    format!("{} ({})", value.to_text(), between.to_text())
}

/// `low to high unit`: the unit that both end in is said once.
fn range(low: &str, high: &str) -> String {
    let low = low.split(NBSP).next().unwrap_or(low);
    format!("{low} to {high}")
}

/// What is held, for a cell.
pub(super) fn held_words(o: &Outlook, show: Show) -> String {
    let bar = |pa: f64| show.setting(pa, None, "").to_text();
    match (&o.held.best, o.held.low_pa) {
        (Some(point), _) => {
            let carried = if o.held.is_carried { " *" } else { "" };
            format!(
                "{}{carried}",
                bracket(show, Kind::Pressure, &point.pressure_pa)
            )
        }
        (None, Some(low)) => range(&bar(low), &bar(o.held.high_pa)),
        (None, None) => format!("at most {}", bar(o.held.high_pa)),
    }
}

fn held_sentence(o: &Outlook, show: Show) -> String {
    let bar = |pa: f64| show.setting(pa, None, "").to_text();
    match (&o.held.best, o.held.low_pa) {
        (Some(point), _) => {
            let mut out = format!(
                "{} with it and passes {}",
                bracket(show, Kind::Pressure, &point.pressure_pa),
                bracket(show, Kind::Flow, &point.flow_m3_per_s)
            );
            if o.held.is_carried {
                out.push_str(
                    "; this lies a little outside what was measured, and the curve is carried on to it (*)",
                );
            }
            out
        }
        (None, Some(low)) => format!(
            "between {} and {} with it; where in between lies outside what was measured, so no number is given",
            bar(low),
            bar(o.held.high_pa)
        ),
        (None, None) => format!(
            "at most {} with it; how much less lies outside what was measured, so no number is given",
            bar(o.held.high_pa)
        ),
    }
}

/// Lowest tail-free pressure, for a cell; `None` when nobody graded.
pub(super) fn need_words(t: &TailFree, show: Show) -> Option<String> {
    let bar = |pa: f64| show.setting(pa, None, "").to_text();
    match t {
        TailFree::Bracketed { pressure_pa: p } => {
            let decimals = setting_decimals(show.units.pressure);
            let value = show.bare_fixed(Kind::Pressure, p.value, decimals, "");
            let half = show.fixed(Kind::Pressure, p.expanded_95(), decimals, "");
            Some(say![value, " \u{b1} ", half].to_text())
        }
        TailFree::AtMost { pressure_pa } => Some(format!("{} or less", bar(*pressure_pa))),
        TailFree::Above { pressure_pa } => Some(format!("above {}", bar(*pressure_pa))),
        TailFree::NotGraded => None,
    }
}

fn need_sentence(tip: &TipPlan, o: &Outlook, show: Show) -> String {
    let Some(words) = need_words(&o.tail_free, show) else {
        return "nobody graded tails in this coating, so what it needs is not known".to_owned();
    };
    let with = match &tip.graded_with {
        Some(other) if !other.trim().eq_ignore_ascii_case(tip.tip.code.trim()) => format!(
            ", as graded with tip {} and carried to this one with a tenth of doubt",
            printable(other)
        ),
        _ => ", as graded with this tip".to_owned(),
    };
    match o.tail_free {
        TailFree::Above { .. } => {
            format!("every stripe had tails, the coating needs {words}{with}")
        }
        _ => format!("the tails are gone from {words}{with}"),
    }
}

/// Why the answer is what it is.
fn reason(o: &Outlook, plan: &BoxPlan, show: Show) -> String {
    let rated = plan
        .rated_pa
        .map_or_else(String::new, |pa| show.setting(pa, Some(pa), "").to_text());
    let out = match (o.reason, o.closes) {
        (PlanReason::PressureHeld, _) => "The pressure it needs is held with this tip.",
        (PlanReason::AboveRating, _) => {
            return format!(
                "It needs more than {rated}, the lowest rating, whatever the pump could do: not with this coating as \
                 it is."
            );
        }
        (PlanReason::NearRating, _) => {
            return format!(
                "It may need more than {rated}, the lowest rating: not known until graded closer."
            );
        }
        (PlanReason::PressureNotHeld, Closes::Supply) => {
            "Supply limit: the pressure sags with this tip below what the coating needs."
        }
        (PlanReason::PressureNotHeld, Closes::Atomisation) => {
            "Atomisation limit: the rig holds its full pressure with this tip, and it does not break the coating up. A \
             smaller orifice would make it worse."
        }
        (PlanReason::PressureNotHeld, _) => {
            "It is not enough; whether the pump or the coating sets the limit was not measured."
        }
        (PlanReason::Overlap, _) => {
            "The two overlap within their doubt: what was measured does not settle it."
        }
        (PlanReason::PumpNotSound, _) => {
            "As the pump was then it is not surely enough. Put the pump right first, as said above: what it holds then \
             is not known yet."
        }
        (PlanReason::NeedUnknown, _) => {
            "Without a graded stripe nobody can say whether that is enough."
        }
    };
    out.to_owned()
}

/// What would have to change, each with the caution that belongs beside it.
fn changes(plan: &BoxPlan, o: &Outlook, show: Show) -> Vec<(String, Option<Caution>)> {
    let mut out: Vec<(String, Option<Caution>)> = Vec::new();
    for change in &o.changes {
        match *change {
            Change::BurstWithThisTip => out.push((
                "Settle it: one burst with this very tip at full control, on scrap board.".to_owned(),
                Some(Caution::Trial),
            )),
            Change::GradeTails => out.push((
                "Settle it: spray stripes at three pressures and note the tails of each (0 none to 3 heavy).".to_owned(),
                Some(Caution::Trial),
            )),
            Change::OrificeAtMost { orifice_m } => out.push((
                format!(
                    "An orifice of {} or less with the same fan would be held.",
                    floor_orifice(show, orifice_m)
                ),
                beside_advice(Advice::SmallerTip),
            )),
            Change::HydraulicPower { ratio, .. } if ratio > 1.0 => out.push((
                format!(
                    "A pump with {} times the power would feed this tip, if hose, gun and fittings are rated for it.",
                    show.plain(Kind::Plain, ratio, "").to_text()
                ),
                beside_advice(Advice::LargerPump),
            )),
            Change::HydraulicPower { .. } => {}
            Change::TailFreeAtMost { pressure_pa } => {
                let to = show.setting(pressure_pa, Some(pressure_pa), "").to_text();
                if thinning_is_left(plan) {
                    out.push((
                        format!("Thinning, {}, until the tails are gone at {to}.", label_words(plan, show)),
                        beside_advice(Advice::ThinMaterial),
                    ));
                }
                out.push((
                    format!("Warming within the label until the tails are gone at {to}."),
                    beside_advice(Advice::WarmMaterial),
                ));
            }
        }
    }
    if o.closes == Closes::Atomisation {
        out.push((
            "A larger orifice with the same fan, or a narrower fan with the same orifice, needs less pressure.".to_owned(),
            beside_advice(Advice::LargerOrificeSameFan),
        ));
        if !o
            .changes
            .iter()
            .any(|c| matches!(c, Change::TailFreeAtMost { .. }))
        {
            out.push((
                format!(
                    "Thinning, {}, and warming within the label lower what it needs.",
                    label_words(plan, show)
                ),
                beside_advice(Advice::ThinMaterial).filter(|_| thinning_is_left(plan)),
            ));
        }
    }
    let has_orifice = |c: &Change| matches!(c, Change::OrificeAtMost { .. });
    if o.closes == Closes::Supply && !o.changes.iter().any(has_orifice) {
        out.insert(
            0,
            (
                "A smaller orifice with the same fan asks less of the pump; how small it has to be, what was measured \
                 does not tell."
                    .to_owned(),
                beside_advice(Advice::SmallerTip),
            ),
        );
    }
    if o.closes == Closes::Supply {
        out.push((
            "No larger orifice: the pressure would sag more.".to_owned(),
            None,
        ));
    }
    out
}

fn thinning_is_left(plan: &BoxPlan) -> bool {
    plan.max_thinner_ratio
        .is_none_or(|most| plan.thinner_ratio < most - 1e-6)
}

fn label_words(plan: &BoxPlan, show: Show) -> String {
    plan.max_thinner_ratio.map_or_else(
        || "as far as the label allows".to_owned(),
        |most| {
            let percent = |r: f64| show.plain(Kind::Percent, r, "").to_text();
            if plan.thinner_ratio > 0.0 {
                format!(
                    "never beyond the label ({} by volume, {} is in)",
                    percent(most),
                    percent(plan.thinner_ratio)
                )
            } else {
                format!("never beyond the label ({} by volume)", percent(most))
            }
        },
    )
}

/// Rounded down, so that the orifice named is held.
fn floor_orifice(show: Show, orifice_m: f64) -> String {
    let step = match show.units.orifice {
        OrificeUnit::Mm => Metre::from_mm(0.01).si(),
        OrificeUnit::Thou => Metre::from_thou(1.0).si(),
    };
    orifice_words(show, (orifice_m / step + 1e-9).floor() * step)
}

/// An orifice as stamped: whole thousandths, hundredths of a millimetre.
pub(super) fn orifice_words(show: Show, orifice_m: f64) -> String {
    let decimals = match show.units.orifice {
        OrificeUnit::Mm => 2,
        OrificeUnit::Thou => 0,
    };
    show.fixed(Kind::Orifice, orifice_m, decimals, "").to_text()
}

/// A tip without a plan, in the reader's units.
fn refusal(e: &PlanError, show: Show) -> String {
    let text = match e {
        PlanError::TooFar {
            planned_m,
            nearest_m,
        } => {
            let mm = |m: f64| orifice_words(show, m);
            return format!(
                "Its orifice of {} is more than twice or less than half of {}, the nearest one measured; record a tip \
                 nearer to it",
                mm(*planned_m),
                mm(*nearest_m)
            );
        }
        PlanError::NoCrossing { pressure_pa } => {
            return format!(
                "The rig cannot hold {} with it at all: far too large",
                show.plain(Kind::Pressure, Pascal(*pressure_pa).si(), "").to_text()
            );
        }
        PlanError::NoCurve => {
            "No tip has a nozzle curve in this coating with this thinner; record one tip at three pressures, the \
             highest at least a quarter above the lowest"
                .to_owned()
        }
        PlanError::NoSupply => {
            "What the pump holds is not known; record one burst at full control and note its position".to_owned()
        }
        other => other.to_string(),
    };
    super::super::wording::capitalised(&text)
}

/// Advice as stable words, for programs: what the verdict table has for this limit.
pub(super) fn advice_words(plan: &BoxPlan, o: &Outlook) -> (Vec<Advice>, Vec<Advice>) {
    let kind = match (o.answer, o.closes) {
        (Answer::Yes, _) => return (vec![Advice::Keep], vec![Advice::RaisePressure]),
        (_, Closes::Supply) => VerdictKind::SupplyLimit,
        (_, Closes::Atomisation | Closes::Rating) => VerdictKind::AtomisationLimit,
        _ => VerdictKind::Undetermined,
    };
    let (advice, against) = advice_for(kind);
    let allowed = |a: &Advice| *a != Advice::ThinMaterial || thinning_is_left(plan);
    (
        advice.iter().copied().filter(allowed).collect(),
        against.to_vec(),
    )
}
