//! The whole answer of a plan: what the rig holds, what the coating needs, and which of the two closes the window.
//!
//! A crossing inside what was measured is a number with its interval. Beyond it only what follows from the curves'
//! direction is said: a nozzle curve rises with pressure and a supply curve does not rise with flow, so that
//! the end of what was measured bounds the pressure from one side. Supply limit and atomisation limit ask for
//! opposite tips and are told apart by the sag, as in the verdict. No wording and no recordings here.

use serde::{Deserialize, Serialize};

use super::crossing::{HeldPoint, Instruments, cross_supply};
use super::predict::PredictedCurve;
use super::{Change, Need, PlanError, PlanReason, answer_need, find_changes};
use crate::analysis::answer::Answer;
use crate::analysis::supply_curve::{SupplyCurve, SupplyForm, stalled_level};
use crate::analysis::thresholds::{MARGIN_RATIO, SAG_HOLDS_RATIO};
use crate::analysis::verdict::VerdictKind;
use crate::estimate::{Estimate, Interval};

/// A curve is carried no further beyond its measured end than by this ratio: it is the least ratio
/// of pressures that a curve is fitted from at all. Just below, the number is given and marked; just above, only
/// a bound is.
pub const CARRY_RATIO: f64 = 1.25;
/// A step is no form that could be carried: flows further apart than this are another point.
const STEP_CARRY_RATIO: f64 = 1.06;

/// What is known of the lowest tail-free pressure with the planned tip, Pa.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "known", rename_all = "snake_case")]
pub enum TailFree {
    /// Bracketed by grades.
    Bracketed {
        /// The pressure.
        pressure_pa: Estimate,
    },
    /// No grade had tails: at most this.
    AtMost {
        /// The lowest pressure graded.
        pressure_pa: f64,
    },
    /// Every grade had tails: above this.
    Above {
        /// The highest pressure graded.
        pressure_pa: f64,
    },
    /// Nobody graded.
    NotGraded,
}

impl TailFree {
    /// Between what it lies with 95 % coverage, Pa; `None` when nobody graded.
    #[must_use]
    pub fn interval(&self) -> Option<Interval> {
        match self {
            Self::Bracketed { pressure_pa } => Some(pressure_pa.interval_95()),
            Self::AtMost { pressure_pa } => Some(Interval {
                low: 0.0,
                high: *pressure_pa,
            }),
            Self::Above { pressure_pa } => Some(Interval {
                low: *pressure_pa,
                high: f64::INFINITY,
            }),
            Self::NotGraded => None,
        }
    }

    fn bracketed(&self) -> Option<Estimate> {
        match self {
            Self::Bracketed { pressure_pa } => Some(*pressure_pa),
            _ => None,
        }
    }
}

/// What the rig does with the tip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Held {
    /// The pressure is at least this, Pa; `None` where nothing says so.
    pub low_pa: Option<f64>,
    /// The pressure is at most this, Pa.
    pub high_pa: f64,
    /// Pressure and flow, where what was measured reaches them.
    pub best: Option<HeldPoint>,
    /// True when the numbers rest on a curve carried a little beyond its measured end.
    pub is_carried: bool,
}

/// What closes the window of a plan that is not a yes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Closes {
    /// Nothing.
    Nothing,
    /// The pressure sags under this tip: the pump does not feed it.
    Supply,
    /// The pressure holds and is not enough to break the coating up.
    Atomisation,
    /// The coating needs more than the lowest rating allows.
    Rating,
    /// What was measured does not tell.
    NotTold,
}

/// What a plan is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    /// Lowest tail-free pressure.
    pub tail_free: TailFree,
    /// Lowest rating of rig and coating, Pa.
    pub rated_pa: Option<f64>,
    /// What the rig was seen to hold with this very tip, where it was.
    pub measured: Option<HeldPoint>,
    /// Pressure to set that the tip's own window gave, Pa, where it has one.
    pub recommended_pa: Option<f64>,
    /// What its own recording decided of this very tip at full control, where it did: it has weighed grades and sag
    /// together and comes before the two held against each other here.
    pub verdict: Option<VerdictKind>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlook {
    /// What the rig holds.
    pub held: Held,
    /// What the coating needs.
    pub tail_free: TailFree,
    /// Whether the first is enough for the second, within the rating.
    pub answer: Answer,
    /// Why.
    pub reason: PlanReason,
    /// What closes the window.
    pub closes: Closes,
    /// What would have to change; empty for a yes.
    pub changes: Vec<Change>,
    /// Pressure to set, Pa: the lowest tail-free one and a margin, never above what is surely held or rated.
    pub set_pa: Option<f64>,
    /// Flow there, m3/s.
    pub flow_at_set_m3_per_s: Option<Estimate>,
}

/// Plan a tip on a measured supply curve.
///
/// *Errors*: as [`cross_supply`]; [`PlanError::NoCrossing`] is a plain no for any need.
pub fn judge_outlook(
    curve: &PredictedCurve,
    supply: &SupplyCurve,
    instruments: Instruments,
    ask: &Ask,
) -> Result<Outlook, PlanError> {
    let crossing = match ask.measured {
        Some(point) => point,
        None => cross_supply(curve, supply, instruments)?,
    };
    let held = match ask.measured {
        Some(point) => known(point, false),
        None => bound(curve, supply, crossing),
    };
    let need = Need {
        tail_free_pa: ask.tail_free.bracketed(),
        rated_pa: ask.rated_pa,
    };
    let (answer, reason, closes) = decided(ask).unwrap_or_else(|| {
        let (answer, reason) = answer_held(&held, &ask.tail_free, &need);
        let closes = what_closes(&held, supply, ask, (answer, reason));
        (answer, reason, closes)
    });
    let parts = (curve, supply, instruments);
    let changes = changes_for(&parts, &crossing, &held, ask, (answer, reason, closes));
    let is_for_use = ask.verdict.is_none_or(VerdictKind::allows_setting);
    let set_pa = (answer == Answer::Yes && is_for_use)
        .then(|| pressure_to_set(&held, ask))
        .flatten();
    Ok(Outlook {
        held,
        tail_free: ask.tail_free,
        answer,
        reason,
        closes,
        changes,
        set_pa,
        flow_at_set_m3_per_s: set_pa.and_then(|p| curve.flow_at(p)),
    })
}

impl Outlook {
    /// The same plan, of a tip that is to be cleaned or replaced first: no pressure to set stands beside that.
    #[must_use]
    pub fn with_tip_not_sound(self) -> Self {
        Self {
            set_pa: None,
            flow_at_set_m3_per_s: None,
            ..self
        }
    }

    /// The same plan, where the pump was starved or its battery weak when its supply curve was measured: what was
    /// held is still held when it is put right, and what was not is no longer known.
    #[must_use]
    pub fn with_pump_not_sound(self) -> Self {
        let rests_on_pump = self.answer != Answer::Yes
            && matches!(
                self.reason,
                PlanReason::PressureNotHeld | PlanReason::Overlap
            );
        if !rests_on_pump {
            return self;
        }
        Self {
            answer: Answer::CannotTell,
            reason: PlanReason::PumpNotSound,
            closes: Closes::NotTold,
            changes: vec![Change::BurstWithThisTip],
            ..self
        }
    }
}

/// What the tip's own recording decided.
fn decided(ask: &Ask) -> Option<(Answer, PlanReason, Closes)> {
    let not_held = |closes| Some((Answer::No, PlanReason::PressureNotHeld, closes));
    match ask.verdict? {
        VerdictKind::HealthyWindow => {
            Some((Answer::Yes, PlanReason::PressureHeld, Closes::Nothing))
        }
        VerdictKind::AtomisationLimit => not_held(Closes::Atomisation),
        VerdictKind::SupplyLimit => not_held(Closes::Supply),
        _ => None,
    }
}

/// What would turn the answer and is of use at what closes the window.
fn changes_for(
    parts: &(&PredictedCurve, &SupplyCurve, Instruments),
    crossing: &HeldPoint,
    held: &Held,
    ask: &Ask,
    (answer, reason, closes): (Answer, PlanReason, Closes),
) -> Vec<Change> {
    let need = Need {
        tail_free_pa: ask.tail_free.bracketed(),
        rated_pa: ask.rated_pa,
    };
    let is_one_sided = matches!(
        ask.tail_free,
        TailFree::AtMost { .. } | TailFree::Above { .. }
    );
    match answer {
        Answer::Yes => Vec::new(),
        Answer::No if is_one_sided => {
            let pressure_pa = match (closes, ask.rated_pa) {
                (Closes::Rating, Some(rated)) => rated,
                _ => held.low_pa.unwrap_or(0.0),
            };
            let change = Change::TailFreeAtMost { pressure_pa };
            (pressure_pa > 0.0).then_some(change).into_iter().collect()
        }
        Answer::CannotTell if is_one_sided => vec![Change::BurstWithThisTip],
        // No crossing was reached: what would hang on it is not worked out at all.
        Answer::CannotTell if held.best.is_none() && reason == PlanReason::Overlap => {
            vec![Change::BurstWithThisTip]
        }
        _ => find_changes(parts, crossing, &need, reason)
            .into_iter()
            .filter(|c| is_of_use(*c, closes, held))
            .collect(),
    }
}

fn known(point: HeldPoint, is_carried: bool) -> Held {
    Held {
        low_pa: Some(point.pressure_pa.interval_95.low),
        high_pa: point.pressure_pa.interval_95.high,
        best: Some(point),
        is_carried,
    }
}

/// The crossing as far as what was measured carries it.
fn bound(curve: &PredictedCurve, supply: &SupplyCurve, crossing: HeldPoint) -> Held {
    let measured = curve.measured_range_pa();
    let p = crossing.pressure_pa;
    let stalled = stalled_level(supply) * (1.0 + 2.0 * supply.u_pressure_ratio());
    let bounded = |low_pa, high_pa| Held {
        low_pa,
        high_pa,
        best: None,
        is_carried: false,
    };
    if p.value > measured.high * CARRY_RATIO {
        // The tip's flow is known up to there, and the rig holds that much with it.
        return bounded(Some(measured.high.min(p.interval_95.low)), stalled);
    }
    if p.value < measured.low / CARRY_RATIO {
        return bounded(None, measured.low.max(p.interval_95.high));
    }
    let flows = supply.points.iter().map(|x| x.flow_m3_per_s.value);
    let most = flows.fold(0.0, f64::max);
    let carry = match supply.form {
        SupplyForm::Shaped { .. } => CARRY_RATIO,
        SupplyForm::Step { .. } => STEP_CARRY_RATIO,
    };
    let q = crossing.flow_m3_per_s.value;
    let is_step_end = matches!(supply.form, SupplyForm::Step { .. })
        && q >= most * 0.999
        && supply
            .pressure_at(most * 0.999)
            .is_some_and(|(held, _)| held > p.interval_95.high);
    if q > most * carry || is_step_end {
        // Beyond the greatest flow measured the rig holds no more than at it.
        let held = supply.pressure_at(most * 0.999).map_or(stalled, |(h, _)| h);
        let high = held * (1.0 + 2.0 * supply.u_pressure_ratio());
        let low = is_step_end.then_some(p.interval_95.low);
        return bounded(low, high.max(p.interval_95.low));
    }
    let is_carried = curve.is_extrapolated(p.value) || q > most * 1.1;
    known(crossing, is_carried)
}

/// Holds what is held against what is needed; the point itself where there is one, its bounds otherwise.
fn answer_held(held: &Held, tail_free: &TailFree, need: &Need) -> (Answer, PlanReason) {
    let Some(interval) = tail_free.interval() else {
        return (Answer::CannotTell, PlanReason::NeedUnknown);
    };
    if need.rated_pa.is_some_and(|rated| interval.low >= rated) {
        return (Answer::No, PlanReason::AboveRating);
    }
    let by_point = held.best.filter(|_| need.tail_free_pa.is_some());
    let (answer, reason) = match by_point {
        Some(point) => answer_need(&point, need),
        None if held.low_pa.is_some_and(|low| low >= interval.high) => {
            (Answer::Yes, PlanReason::PressureHeld)
        }
        None if held.high_pa < interval.low => (Answer::No, PlanReason::PressureNotHeld),
        None => (Answer::CannotTell, PlanReason::Overlap),
    };
    let may_exceed = need.rated_pa.is_some_and(|rated| interval.high > rated);
    if answer == Answer::Yes && may_exceed {
        return (Answer::CannotTell, PlanReason::NearRating);
    }
    (answer, reason)
}

fn what_closes(
    held: &Held,
    supply: &SupplyCurve,
    ask: &Ask,
    (answer, reason): (Answer, PlanReason),
) -> Closes {
    match (answer, reason) {
        (Answer::Yes, _) => return Closes::Nothing,
        (_, PlanReason::AboveRating) => return Closes::Rating,
        (Answer::CannotTell, _) => return Closes::NotTold,
        (Answer::No, _) => {}
    }
    let stalled = stalled_level(supply);
    let needs = ask.tail_free.interval().map_or(0.0, |i| i.low);
    if needs > stalled * (1.0 + 2.0 * supply.u_pressure_ratio()) {
        // Not even without any flow does the rig get there: no smaller tip helps.
        return Closes::Atomisation;
    }
    let least_sag = 1.0 - held.high_pa / stalled;
    let most_sag = 1.0 - held.low_pa.unwrap_or(0.0) / stalled;
    if most_sag < SAG_HOLDS_RATIO {
        Closes::Atomisation
    } else if least_sag > SAG_HOLDS_RATIO {
        Closes::Supply
    } else {
        Closes::NotTold
    }
}

/// A change that would not help at this limit is not named, nor one whose number rests on a crossing that
/// was not reached.
fn is_of_use(change: Change, closes: Closes, held: &Held) -> bool {
    match change {
        Change::OrificeAtMost { .. } | Change::HydraulicPower { .. } => {
            !matches!(closes, Closes::Atomisation | Closes::Rating) && held.best.is_some()
        }
        Change::TailFreeAtMost { .. } => held.best.is_some() || closes == Closes::Rating,
        Change::GradeTails | Change::BurstWithThisTip => true,
    }
}

/// What the tip's own window says; without one, the lowest tail-free pressure with its margin in the same way.
fn pressure_to_set(held: &Held, ask: &Ask) -> Option<f64> {
    let rated_pa = ask.rated_pa.unwrap_or(f64::INFINITY);
    if let Some(set) = ask.recommended_pa.filter(|p| *p <= held.high_pa) {
        return Some(set.min(rated_pa));
    }
    let cap = held.low_pa?.min(rated_pa);
    let (from, safe) = match ask.tail_free {
        TailFree::Bracketed { pressure_pa } => (pressure_pa.value, pressure_pa.interval_95().high),
        TailFree::AtMost { pressure_pa } => (pressure_pa, pressure_pa),
        TailFree::Above { .. } | TailFree::NotGraded => return None,
    };
    let least = from * (1.0 + MARGIN_RATIO);
    Some(safe.max(least).min(cap)).filter(|set| *set >= from && set.is_finite())
}

#[cfg(test)]
mod tests;
