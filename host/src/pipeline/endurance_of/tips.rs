//! Tips held against what the rig can do at full control.
//!
//! A tip that was sprayed at full control answers by its own bursts and grades; any other by a plan from the
//! measured ones.

use crate::analysis::answer::Answer;
use crate::analysis::plan::PlanReason;
use crate::analysis::tail_threshold::TailThreshold;
use crate::energy_findings::{Held, TipHeld};
use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;
use crate::findings::{Findings, GroupFinding};
use crate::pipeline::plan_tip::{Question, plan_tip};

/// Every tip of the session, by orifice.
pub(super) fn tips_of(f: &Findings, material: Option<&str>) -> Vec<TipHeld> {
    let mut out: Vec<TipHeld> = f
        .settings
        .tips
        .iter()
        .filter_map(|tip| {
            let own = own_bursts(f, &tip.code, material);
            Some(TipHeld {
                tip: tip.code.clone(),
                orifice_m: tip.orifice_diameter_m?,
                is_measured: own.is_some(),
                held: own.map_or_else(|| planned(f, &tip.code, material), Ok),
            })
        })
        .collect();
    out.sort_by(|a, b| a.orifice_m.total_cmp(&b.orifice_m));
    out
}

fn planned(
    f: &Findings,
    tip: &str,
    material: Option<&str>,
) -> Result<Held, crate::analysis::plan::PlanError> {
    let question = Question {
        tip: tip.to_owned(),
        material: material.map(str::to_owned),
        ..Question::default()
    };
    plan_tip(f, &question).map(|plan| Held {
        answer: plan.answer,
        reason: plan.reason,
        pressure_pa: plan.held.pressure_pa,
        flow_m3_per_s: Some(plan.held.flow_m3_per_s),
        is_extrapolated: plan.is_extrapolated,
    })
}

/// The latest state of a tip with its own crossing and grades; `None` where it has not both.
fn own_bursts(f: &Findings, tip: &str, material: Option<&str>) -> Option<Held> {
    let is_asked = |g: &&GroupFinding| {
        g.group.tip.trim().eq_ignore_ascii_case(tip.trim())
            && material.is_none_or(|m| g.group.material == m)
    };
    let group = f.groups.iter().rev().find(is_asked)?;
    let crossing = group.crossing.filter(|c| c.is_measured)?;
    let answer = answer_of(&crossing.pressure_pa, &group.tail_threshold)?;
    let flow = group
        .curve
        .as_ref()
        .ok()
        .map(|c| c.flow_at(crossing.pressure_pa.value));
    Some(Held {
        answer,
        reason: match answer {
            Answer::Yes => PlanReason::PressureHeld,
            Answer::No => PlanReason::PressureNotHeld,
            Answer::CannotTell => PlanReason::Overlap,
        },
        pressure_pa: Bracketed {
            value: crossing.pressure_pa.value,
            interval_95: crossing.interval_95_pa,
        },
        flow_m3_per_s: flow.map(|q| Bracketed {
            value: q.value,
            interval_95: q.interval_95(),
        }),
        is_extrapolated: false,
    })
}

/// A pressure held against a tip's own grades. Both were read from one sensor: its calibration cancels.
fn answer_of(held_pa: &Estimate, threshold: &TailThreshold) -> Option<Answer> {
    match threshold {
        TailThreshold::Between {
            estimate_pa, u_pa, ..
        } => {
            let over = Estimate::new(
                held_pa.value - estimate_pa,
                held_pa.u_independent.hypot(*u_pa),
                0.0,
            );
            Some(Answer::is_at_least(&over, 0.0))
        }
        TailThreshold::Below {
            lowest_without_pa, ..
        } => match Answer::is_at_least(held_pa, *lowest_without_pa) {
            Answer::Yes => Some(Answer::Yes),
            // Below the lowest pressure that was graded nothing is known.
            Answer::No | Answer::CannotTell => Some(Answer::CannotTell),
        },
        // Tails at every pressure that it held.
        TailThreshold::Above { .. } => Some(Answer::No),
        TailThreshold::NoGrades => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Interval;

    fn between(estimate_pa: f64) -> TailThreshold {
        TailThreshold::Between {
            estimate_pa,
            u_pa: 3e5,
            interval_95_pa: Interval {
                low: estimate_pa - 6e5,
                high: estimate_pa + 6e5,
            },
            highest_with_tails_pa: estimate_pa - 5e5,
            lowest_without_pa: estimate_pa + 5e5,
            overlap: false,
        }
    }

    #[test]
    fn a_tip_is_held_where_its_pressure_stays_clear_of_its_own_grades() {
        let held = Estimate::new(120e5, 2e5, 8e5);
        assert_eq!(answer_of(&held, &between(100e5)), Some(Answer::Yes));
        assert_eq!(answer_of(&held, &between(140e5)), Some(Answer::No));
        assert_eq!(answer_of(&held, &between(117e5)), Some(Answer::CannotTell));
        let above = TailThreshold::Above {
            highest_with_tails_pa: 120e5,
            n_grades: 4,
        };
        assert_eq!(answer_of(&held, &above), Some(Answer::No));
        let below = |pa| TailThreshold::Below {
            lowest_without_pa: pa,
            n_grades: 4,
        };
        assert_eq!(answer_of(&held, &below(60e5)), Some(Answer::Yes));
        assert_eq!(answer_of(&held, &below(130e5)), Some(Answer::CannotTell));
        assert_eq!(answer_of(&held, &TailThreshold::NoGrades), None);
    }
}
