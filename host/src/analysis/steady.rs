//! The stationary part of one burst and its means. Knows nothing of other bursts.

use serde::{Deserialize, Serialize};

use crate::estimate::Estimate;

/// Why a burst is listed but not used in a fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Exclusion {
    /// No stationary part that is long enough.
    TooShort {
        /// Length of the longest stationary part.
        steady_s: f64,
        /// Length needed.
        needed_s: f64,
    },
    /// Pressure or flow drifts through the whole burst.
    NotSteady {
        /// Relative change of pressure over the burst.
        drift_ratio: f64,
    },
    /// Too few flow edges for a flow.
    TooFewEdges {
        /// Edges in the steady part.
        n_edges: usize,
    },
    /// Samples were lost inside.
    Gap {
        /// Where the gap begins.
        from_s: f64,
    },
    /// A health defect covers it.
    Health {
        /// The defect's code.
        code: String,
    },
    /// One of the three short pulls of a sync mark.
    Sync,
    /// No note says what was sprayed.
    NoNote,
    /// The note's burst is ambiguous.
    AmbiguousNote,
    /// A test pull that no note describes, between noted bursts.
    NotNoted,
}

/// What one burst yields.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SteadyMeasurement {
    /// Begin of the steady part, logger time.
    pub from_s: f64,
    /// End of the steady part.
    pub to_s: f64,
    /// Spraying pressure, Pa, zero corrected.
    pub pressure_pa: Option<Estimate>,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: Option<Estimate>,
    /// True when the flow is an upper bound only (below the meter's calibrated range).
    pub flow_is_bound: bool,
    /// Pressure just before the trigger opened, Pa, zero corrected.
    pub stalled_pa: Option<f64>,
    /// `1 - spraying / stalled`.
    pub sag_ratio: Option<f64>,
    /// Ripple frequency: the pump's stroke rate.
    pub stroke_rate_hz: Option<f64>,
    /// Peak-to-peak stroke ripple, Pa.
    pub ripple_pa: Option<f64>,
    /// Mean supply voltage, V.
    pub supply_v: Option<f64>,
    /// Mean supply current, A.
    pub supply_a: Option<f64>,
    /// Coating temperature, K.
    pub material_k: Option<f64>,
    /// Flow edges in the steady part.
    pub n_edges: usize,
    /// Why it is not used in fits; `None` when it is.
    pub exclusion: Option<Exclusion>,
}
