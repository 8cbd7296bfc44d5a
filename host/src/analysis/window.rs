//! Curve, supply and threshold to the working window and what closes it. No advice here.

use serde::{Deserialize, Serialize};

use super::clearing::ClearingPosterior;
use super::supply_curve::Crossing;
use super::tail_threshold::TailThreshold;
use super::thresholds::MARGIN_RATIO;
use crate::estimate::Interval;

/// What ends the window at its upper side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UpperLimit {
    /// The supply curve crosses the nozzle curve there.
    Supply,
    /// The same, computed from what the rig held with other tips.
    SupplyComputed,
    /// The lowest rated working pressure.
    WorkingPressure,
    /// The coating maker's limit.
    CoatingLimit,
    /// Runs begin there.
    Runs,
    /// The highest pressure that was tried; the true limit is not known.
    HighestTried,
}

/// The working window of one tip with one coating on this rig.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// Lowest tail-free pressure, Pa, with its 95 % interval; `None` when it is not bracketed.
    pub lower_pa: Option<f64>,
    /// 95 % interval of the lower end, Pa.
    pub lower_interval_pa: Option<Interval>,
    /// Upper end, Pa.
    pub upper_pa: f64,
    /// 95 % interval of the upper end, Pa.
    pub upper_interval_pa: Interval,
    /// What sets the upper end.
    pub upper_limit: UpperLimit,
    /// Probability that the window is open (lower below upper), 0 to 1.
    pub open_probability: f64,
    /// Pressure to set: lowest tail-free pressure plus a margin, inside the window, Pa.
    pub recommended_pa: Option<f64>,
    /// Lowest pressure at which a run was noted, Pa.
    pub lowest_run_pa: Option<f64>,
}

/// The pressures that may end a window at its upper side, Pa.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct UpperBounds {
    /// Lowest rated working pressure.
    pub working_pressure_pa: Option<f64>,
    /// The coating maker's limit.
    pub coating_limit_pa: Option<f64>,
    /// Lowest pressure from which on the coat ran.
    pub lowest_run_pa: Option<f64>,
    /// Highest pressure that was sprayed.
    pub highest_tried_pa: Option<f64>,
}

/// Finds the window of one group, or `None` when nothing bounds it above.
///
/// *Units*: pascals at the tap. The recommended pressure is the lowest tail-free one plus
/// [`MARGIN_RATIO`], raised to the upper end of its interval where the window allows that, and
/// never above the upper end of the window.
#[must_use]
pub fn find_window(
    threshold: &TailThreshold,
    clearing: Option<&ClearingPosterior>,
    crossing: Option<&Crossing>,
    bounds: &UpperBounds,
) -> Option<Window> {
    let (upper_pa, upper_interval_pa, upper_limit) = upper_end(crossing, bounds)?;
    let (lower_pa, lower_interval_pa) = match threshold {
        TailThreshold::Between {
            estimate_pa,
            interval_95_pa,
            ..
        } => (Some(*estimate_pa), Some(*interval_95_pa)),
        _ => (None, None),
    };
    let u_upper_ratio = (upper_interval_pa.high - upper_interval_pa.low) / (3.92 * upper_pa);
    let open_probability =
        clearing.map_or(0.5, |c| c.probability_cleared_at(upper_pa, u_upper_ratio));
    let from_pa = match threshold {
        TailThreshold::Between { estimate_pa, .. } => Some(*estimate_pa),
        TailThreshold::Below {
            lowest_without_pa, ..
        } => Some(*lowest_without_pa),
        TailThreshold::Above { .. } | TailThreshold::NoGrades => None,
    };
    let recommended_pa = from_pa.and_then(|from| {
        let least = from * (1.0 + MARGIN_RATIO);
        let safe = lower_interval_pa.map_or(least, |i| i.high.max(least));
        (least <= upper_pa).then(|| safe.min(upper_pa))
    });
    Some(Window {
        lower_pa,
        lower_interval_pa,
        upper_pa,
        upper_interval_pa,
        upper_limit,
        open_probability,
        recommended_pa,
        lowest_run_pa: bounds.lowest_run_pa,
    })
}

fn upper_end(
    crossing: Option<&Crossing>,
    bounds: &UpperBounds,
) -> Option<(f64, Interval, UpperLimit)> {
    let exact = |pa: f64, limit| (pa, Interval { low: pa, high: pa }, limit);
    let mut ends: Vec<(f64, Interval, UpperLimit)> = Vec::new();
    if let Some(c) = crossing {
        let limit = if c.is_measured {
            UpperLimit::Supply
        } else {
            UpperLimit::SupplyComputed
        };
        ends.push((c.pressure_pa.value, c.interval_95_pa, limit));
    } else if let Some(pa) = bounds.highest_tried_pa {
        ends.push(exact(pa, UpperLimit::HighestTried));
    }
    for (bound, limit) in [
        (bounds.working_pressure_pa, UpperLimit::WorkingPressure),
        (bounds.coating_limit_pa, UpperLimit::CoatingLimit),
        (bounds.lowest_run_pa, UpperLimit::Runs),
    ] {
        if let Some(pa) = bound.filter(|pa| pa.is_finite() && *pa > 0.0) {
            ends.push(exact(pa, limit));
        }
    }
    ends.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::supply_curve::SupplyRegime;
    use crate::estimate::Estimate;

    fn threshold(bar: f64) -> TailThreshold {
        TailThreshold::Between {
            estimate_pa: bar * 1e5,
            u_pa: 3e5,
            interval_95_pa: Interval {
                low: (bar - 6.0) * 1e5,
                high: (bar + 6.0) * 1e5,
            },
            highest_with_tails_pa: (bar - 5.0) * 1e5,
            lowest_without_pa: (bar + 5.0) * 1e5,
            overlap: false,
        }
    }

    fn crossing(bar: f64) -> Crossing {
        Crossing {
            pressure_pa: Estimate::new(bar * 1e5, 1e5, 0.0),
            flow_m3_per_s: 1e-5,
            regime: SupplyRegime::Pressure,
            interval_95_pa: Interval {
                low: (bar - 2.0) * 1e5,
                high: (bar + 2.0) * 1e5,
            },
            is_measured: true,
        }
    }

    #[test]
    fn the_lowest_bound_ends_the_window() {
        let bounds = UpperBounds {
            working_pressure_pa: Some(150e5),
            coating_limit_pa: Some(120e5),
            ..UpperBounds::default()
        };
        let w = find_window(&threshold(80.0), None, Some(&crossing(140.0)), &bounds).unwrap();
        assert_eq!(w.upper_limit, UpperLimit::CoatingLimit);
        assert!(
            (w.recommended_pa.unwrap() / 1e5 - 86.0).abs() < 0.3,
            "{w:?}"
        );
    }

    #[test]
    fn a_recommendation_never_leaves_the_window() {
        let bounds = UpperBounds::default();
        let w = find_window(&threshold(100.0), None, Some(&crossing(103.0)), &bounds).unwrap();
        assert_eq!(w.recommended_pa, None);
        let w = find_window(&threshold(97.0), None, Some(&crossing(103.0)), &bounds).unwrap();
        assert!(w.recommended_pa.unwrap() <= 103e5);
    }

    #[test]
    fn a_computed_crossing_is_named_as_one() {
        let computed = Crossing {
            is_measured: false,
            ..crossing(140.0)
        };
        let w = find_window(
            &threshold(80.0),
            None,
            Some(&computed),
            &UpperBounds::default(),
        );
        assert_eq!(w.unwrap().upper_limit, UpperLimit::SupplyComputed);
    }

    #[test]
    fn without_a_bound_there_is_no_window() {
        assert!(find_window(&threshold(80.0), None, None, &UpperBounds::default()).is_none());
    }
}
