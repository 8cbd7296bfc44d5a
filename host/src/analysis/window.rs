//! Curve, supply and threshold to the working window and what closes it. No advice here.

use serde::{Deserialize, Serialize};

use crate::estimate::Interval;

/// What ends the window at its upper side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UpperLimit {
    /// The supply curve crosses the nozzle curve there.
    Supply,
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
