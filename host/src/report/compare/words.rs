//! What a move means and what to do about it: the table of the two curves, in plain words.

use crate::analysis::answer::Change;
use crate::analysis::compare::{RatioChange, WhichMoved};
use crate::analysis::thresholds::WEAK_BATTERY_RATIO;
use crate::analysis::verdict::{Advice, VerdictKind};
use crate::findings::Findings;
use crate::pipeline::compare_days::{NozzleMove, SupplyMove};
use crate::report::cautions::{Caution, beside_advice};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, say};

/// "rose", "fell", "did not move" or that it cannot be told.
pub(crate) const fn moved(change: Change) -> &'static str {
    match change {
        Change::MovedUp => "rose",
        Change::MovedDown => "fell",
        Change::DidNotMove => "did not move",
        Change::CannotTell => "may or may not have moved",
    }
}

/// "7 % (3 % to 11 %)"; the keys are those of the change's members `value`, `low_95`, `high_95`.
pub(crate) fn change_with_interval(show: Show, r: &RatioChange, key: &str) -> Sentence {
    let i = r.ratio.interval_95;
    let half = 0.5 * (i.high - i.low);
    say![
        show.rounded(
            Kind::Percent,
            r.ratio.value - 1.0,
            half,
            format!("{key}/value")
        ),
        " (95\u{a0}%: ",
        show.between(
            Kind::Percent,
            (i.low - 1.0, format!("{key}/low_95")),
            (i.high - 1.0, format!("{key}/high_95"))
        ),
        ")"
    ]
}

/// State, meaning, and what to do.
pub(crate) struct Cause {
    pub(crate) state: &'static str,
    pub(crate) headline: String,
    pub(crate) advice: Vec<(&'static str, Option<&'static str>)>,
}

const CLEAN_TIP: (&str, Advice) = (
    "Relieve the pressure and lock the trigger, then clean the tip and the gun filter; strain the coating.",
    Advice::CleanTip,
);
const REPLACE_TIP: (&str, Advice) = (
    "Relieve the pressure and lock the trigger, then replace the tip when its fan has narrowed.",
    Advice::ReplaceTip,
);
const CLEAN_INLET: (&str, Advice) = (
    "Clean the inlet strainer, look for air on the suction side; then have the packings looked at.",
    Advice::CleanInletStrainer,
);
const CHARGE: (&str, Advice) = (
    "Swap or charge the battery and repeat one burst.",
    Advice::ChargeBattery,
);

fn with_caution(list: &[(&'static str, Advice)]) -> Vec<(&'static str, Option<&'static str>)> {
    list.iter()
        .map(|(text, advice)| (*text, beside_advice(*advice).map(Caution::text)))
        .collect()
}

/// What moved and what that means; without a nozzle comparison, of the pump alone.
pub(crate) fn cause(
    before: &Findings,
    after: &Findings,
    nozzle: Option<&NozzleMove>,
    supply: Option<&SupplyMove>,
) -> Cause {
    let nozzle_change = nozzle.map_or(Change::CannotTell, |n| {
        n.result.as_ref().map_or(Change::CannotTell, |p| p.change)
    });
    let supply_change = supply.map_or(Change::CannotTell, |s| s.ratio.change);
    let which = WhichMoved::of(nozzle_change, supply_change);
    let mut meaning: Vec<&'static str> = Vec::new();
    let mut advice: Vec<(&'static str, Advice)> = Vec::new();
    let mut no_more = false;
    match nozzle_change {
        Change::MovedDown => {
            meaning.push(
                "Less comes through the tip at the same pressure: a restriction at the tip or the gun filter.",
            );
            advice.push(CLEAN_TIP);
            no_more = true;
        }
        Change::MovedUp if nozzle.is_some_and(|n| was_blocked(before, n)) => {
            meaning.push("More comes through the tip: it was blocked then and is free now.");
        }
        Change::MovedUp => {
            meaning.push("More comes through the tip at the same pressure: it is wearing.");
            advice.push(REPLACE_TIP);
        }
        Change::DidNotMove | Change::CannotTell => {}
    }
    match supply_change {
        Change::MovedDown => {
            let is_battery = after.settings.limits.battery_v.is_some();
            let fell = supply
                .and_then(|s| s.supply_v)
                .map(|(b, a)| a < WEAK_BATTERY_RATIO * b);
            match (is_battery, fell) {
                (true, Some(true)) => {
                    meaning.push("The pump holds less, and its voltage fell with it: the battery.");
                    advice.push(CHARGE);
                }
                (true, _) => {
                    meaning.push("The pump holds less: its inlet, its wear or its battery.");
                    advice.extend([CHARGE, CLEAN_INLET]);
                }
                (false, _) => {
                    meaning.push("The pump holds less: a restriction at its inlet, or wear.");
                    advice.push(CLEAN_INLET);
                }
            }
            no_more = true;
        }
        Change::MovedUp => meaning.push("The pump holds more than then."),
        Change::DidNotMove | Change::CannotTell => {}
    }
    let mut advice = with_caution(&advice);
    if no_more {
        advice.push((
            "Do not turn it up: it cures neither and wears faster.",
            None,
        ));
    }
    if let Some(open) = open_question(nozzle, nozzle_change, supply_change) {
        meaning.push(open);
    }
    if which == WhichMoved::Neither {
        meaning.push("Rig and tip do what they did, within 5 %.");
    }
    Cause {
        state: state(which, nozzle_change, supply_change),
        headline: meaning.join(" "),
        advice,
    }
}

fn was_blocked(before: &Findings, n: &NozzleMove) -> bool {
    before
        .verdicts
        .iter()
        .any(|v| v.group_index == n.before_group && v.kind == VerdictKind::RestrictionTip)
}

/// What is not known, and what would tell.
fn open_question(
    nozzle: Option<&NozzleMove>,
    nozzle_change: Change,
    supply_change: Change,
) -> Option<&'static str> {
    match (nozzle_change, supply_change) {
        (Change::CannotTell, _) => match nozzle.map(|n| &n.result) {
            None => Some(
                "No tip was sprayed with the same coating on both days, so the tip's share is not known: record one.",
            ),
            Some(Err(_)) => Some(
                "The tip's share is not known: it needs its curve on both days at common pressures.",
            ),
            Some(Ok(pair)) if pair.left.is_none() && nozzle.is_some_and(|n| n.by_k.is_some()) => {
                Some(
                    "Whether the tip changed is not known: repeat at the same coating temperature.",
                )
            }
            Some(Ok(_)) => Some(
                "Whether the tip changed is not known: one more round of bursts at the same pressures would tell.",
            ),
        },
        // The tip passes another flow than it did: the same tip sprayed once more would say no more of the pump.
        (Change::MovedUp | Change::MovedDown, Change::CannotTell) => Some(
            "Whether the pump changed is not known: with the tip put right, one burst at full control would tell.",
        ),
        (_, Change::CannotTell) => Some(
            "Whether the pump changed is not known: one more burst at full control with the same tip would tell.",
        ),
        _ => None,
    }
}

const fn state(which: WhichMoved, nozzle: Change, supply: Change) -> &'static str {
    match which {
        WhichMoved::Neither => "Nothing moved",
        WhichMoved::NozzleCurve => "The nozzle curve moved",
        WhichMoved::SupplyCurve => "The supply curve moved",
        WhichMoved::Both => "Both curves moved",
        WhichMoved::CannotTell => match (nozzle, supply) {
            (Change::MovedUp | Change::MovedDown, _) => {
                "The nozzle curve moved; the pump cannot be told"
            }
            (_, Change::MovedUp | Change::MovedDown) => {
                "The supply curve moved; the tip cannot be told"
            }
            (Change::DidNotMove, _) => "The nozzle curve did not move; the pump cannot be told",
            (_, Change::DidNotMove) => "The supply curve did not move; the tip cannot be told",
            _ => "Cannot tell",
        },
    }
}
