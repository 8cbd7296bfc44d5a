//! What one measured tip is known to do, as a plan asks for it.

use crate::analysis::nozzle_curve::NozzleCurve;
use crate::analysis::plan::crossing::HeldPoint;
use crate::analysis::plan::outlook::TailFree;
use crate::analysis::supply_curve::Crossing;
use crate::analysis::tail_threshold::TailThreshold;
use crate::estimate::bracketed::Bracketed;
use crate::estimate::{Estimate, Interval};
use crate::pipeline::plan_tip::U_TAIL_FREE_RATIO;

/// A threshold as what is known of another tip (or of the tip itself); `None` without grades.
pub(super) fn carried(threshold: &TailThreshold, is_other_tip: bool) -> Option<TailFree> {
    let u = if is_other_tip { U_TAIL_FREE_RATIO } else { 0.0 };
    match *threshold {
        TailThreshold::Between {
            estimate_pa, u_pa, ..
        } => Some(TailFree::Bracketed {
            pressure_pa: Estimate::new(estimate_pa, u_pa.hypot(u * estimate_pa), 0.0),
        }),
        TailThreshold::Above {
            highest_with_tails_pa,
            ..
        } => Some(TailFree::Above {
            pressure_pa: highest_with_tails_pa * (1.0 - 2.0 * u),
        }),
        TailThreshold::Below {
            lowest_without_pa, ..
        } => Some(TailFree::AtMost {
            pressure_pa: lowest_without_pa * (1.0 + 2.0 * u),
        }),
        TailThreshold::NoGrades => None,
    }
}

/// What was seen at full control with a tip itself; the flow from its curve over the pressure's own interval.
pub(super) fn point_of(crossing: &Crossing, curve: &NozzleCurve) -> Option<HeldPoint> {
    let p = crossing.interval_95_pa;
    let flow = Interval {
        low: curve.flow_at(p.low).interval_95().low,
        high: curve.flow_at(p.high).interval_95().high,
    };
    (crossing.is_measured && flow.low > 0.0).then_some(HeldPoint {
        pressure_pa: Bracketed {
            value: crossing.pressure_pa.value,
            interval_95: p,
        },
        flow_m3_per_s: Bracketed {
            value: curve.flow_at(crossing.pressure_pa.value).value,
            interval_95: flow,
        },
    })
}
