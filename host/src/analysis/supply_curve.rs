//! The highest pressure that the rig holds against flow, and where a nozzle curve crosses it.

use serde::{Deserialize, Serialize};

use crate::estimate::{Estimate, Interval};

/// One steady point at a named control position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyPoint {
    /// Index of the burst.
    pub burst_index: usize,
    /// Tip of the burst.
    pub tip: String,
    /// Volume flow, m3/s.
    pub flow_m3_per_s: Estimate,
    /// Spraying pressure, Pa.
    pub pressure_pa: Estimate,
    /// Pressure just before the trigger opened, Pa; `None` where it was not seen.
    pub stalled_pa: Option<f64>,
    /// Supply voltage during the burst, V.
    pub supply_v: Option<f64>,
    /// Middle of the steady window, logger time.
    pub t_s: f64,
}

/// What limits the pressure at a point of the supply curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SupplyRegime {
    /// The control holds its set point.
    Pressure,
    /// Hydraulic power is constant.
    Power,
    /// The pump's displacement is used up: flow cannot rise.
    Stroke,
}

/// How the supply curve was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "form", rename_all = "snake_case")]
pub enum SupplyForm {
    /// Pressure-limited, then power-limited, then stroke-limited.
    Shaped {
        /// Stalled pressure at this control position, Pa.
        p_max_pa: Estimate,
        /// Hydraulic power limit, W; `None` while no point shows it.
        power_w: Option<Estimate>,
        /// Stroke limit, m3/s; `None` while no point shows it.
        q_max_m3_per_s: Option<Estimate>,
        /// Change of the power limit per volt of supply, relative, 1/V.
        power_per_v_ratio: Option<Estimate>,
    },
    /// Too few points for a shape: a monotone step through them.
    Step {
        /// Flows, ascending, m3/s.
        flow_m3_per_s: Vec<f64>,
        /// Highest pressure held at each, not increasing, Pa.
        pressure_pa: Vec<f64>,
    },
}

/// The supply curve at one control position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SupplyCurve {
    /// Control position as the notes name it.
    pub dial: String,
    /// True when this is the highest position used.
    pub is_full: bool,
    /// The points.
    pub points: Vec<SupplyPoint>,
    /// The curve.
    pub form: SupplyForm,
}

/// Where a nozzle curve meets the supply curve: the highest pressure that the rig holds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Crossing {
    /// Pressure, Pa.
    pub pressure_pa: Estimate,
    /// Flow, m3/s.
    pub flow_m3_per_s: f64,
    /// What limits the rig there.
    pub regime: SupplyRegime,
    /// 95 % interval of the pressure, Pa.
    pub interval_95_pa: Interval,
    /// True when measured with this very tip at this control position, not only computed.
    pub is_measured: bool,
}
