//! What a season needs of one recording: a row for each curve and each tip's litres, SI.

use serde::{Deserialize, Serialize};

/// What a row is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RowKind {
    /// A recording without any curve: the row says that it was looked at.
    #[default]
    Nothing,
    /// A nozzle curve (the latest state of its setting).
    Nozzle,
    /// A supply curve at the highest control position.
    Supply,
    /// What went through a tip.
    Volume,
}

impl RowKind {
    /// The stable word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Nozzle => "nozzle",
            Self::Supply => "supply",
            Self::Volume => "volume",
        }
    }

    /// From the stable word.
    #[must_use]
    pub fn from_word(word: &str) -> Self {
        [Self::Nozzle, Self::Supply, Self::Volume]
            .into_iter()
            .find(|k| k.word() == word)
            .unwrap_or_default()
    }
}

/// One row; what does not belong to its kind is `None`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SummaryRow {
    /// Recording, by its folder's name below the season's.
    pub recording: String,
    /// What the recording's files were when it was summarised.
    pub stamp: String,
    /// What the row is about.
    pub kind: RowKind,
    /// Made by the simulated rig.
    pub is_simulated: bool,
    /// Start of the recording, Unix time; noon of its date where only that is known.
    pub start_unix_s: Option<f64>,
    /// Meter constant, sensor and tap as one text: rows with the same share their calibration.
    pub instruments: String,
    /// Rig.
    pub rig: Option<String>,
    /// Tip.
    pub tip: Option<String>,
    /// Coating.
    pub material: Option<String>,
    /// Control position.
    pub dial: Option<String>,
    /// Thinner, 0 to 1.
    pub thinner_ratio: Option<f64>,
    /// Coating temperature, K.
    pub material_k: Option<f64>,
    /// What went through the tip, m3.
    pub volume_m3: Option<f64>,
    /// Reference pressure of the nozzle curve, Pa.
    pub p_ref_pa: Option<f64>,
    /// Flow there, m3/s.
    pub q_ref_m3_per_s: Option<f64>,
    /// Relative standard uncertainty of it, independent.
    pub u_q_ref_ratio: Option<f64>,
    /// Exponent.
    pub n: Option<f64>,
    /// Its standard uncertainty, independent.
    pub u_n: Option<f64>,
    /// Covariance of `ln q_ref` and `n`, independent.
    pub cov_ln_q_ref_n: Option<f64>,
    /// Lowest measured pressure, Pa.
    pub pressure_low_pa: Option<f64>,
    /// Highest measured pressure, Pa.
    pub pressure_high_pa: Option<f64>,
    /// Relative change of flow per kelvin of the coating, 1/K; `None` where its viscosity is not known.
    pub flow_per_k_ratio: Option<f64>,
    /// Its standard uncertainty.
    pub u_flow_per_k_ratio: Option<f64>,
    /// Pressure that the control holds without a limit, Pa.
    pub p_max_pa: Option<f64>,
    /// Hydraulic power limit, W.
    pub power_w: Option<f64>,
    /// Stroke limit, m3/s.
    pub q_max_m3_per_s: Option<f64>,
    /// Median pressure held, Pa: what a step without a shape says.
    pub held_pa: Option<f64>,
    /// Relative standard uncertainty of a pressure held.
    pub u_held_ratio: Option<f64>,
    /// Least flow measured at that position, m3/s.
    pub flow_low_m3_per_s: Option<f64>,
    /// Greatest flow measured at that position, m3/s.
    pub flow_high_m3_per_s: Option<f64>,
    /// Median supply voltage while spraying, V.
    pub supply_v: Option<f64>,
}

impl SummaryRow {
    /// Flow of a nozzle row at a pressure, its relative standard uncertainty, and whether its measured pressures
    /// reach there (give or take `beyond_ratio`).
    ///
    /// *Source*: the power law of [`crate::analysis::nozzle_curve::PowerLaw`].
    #[must_use]
    pub fn flow_at(&self, pressure_pa: f64, beyond_ratio: f64) -> Option<(f64, f64, bool)> {
        let x = (pressure_pa / self.p_ref_pa?).ln();
        let (q, n) = (self.q_ref_m3_per_s?, self.n?);
        let (u_q, u_n) = (self.u_q_ref_ratio?, self.u_n?);
        let cov = self.cov_ln_q_ref_n.unwrap_or(0.0);
        let variance = u_q * u_q + x * x * u_n * u_n + 2.0 * x * cov;
        let flow = q * (n * x).exp();
        let reaches = pressure_pa >= self.pressure_low_pa? / beyond_ratio
            && pressure_pa <= self.pressure_high_pa? * beyond_ratio;
        let u = variance.max(0.0).sqrt();
        (flow.is_finite() && flow > 0.0 && u.is_finite()).then_some((flow, u, reaches))
    }

    /// Pressure that a supply row holds at a flow, its relative standard uncertainty, and whether its measured
    /// flows reach there (give or take `same_ratio`).
    #[must_use]
    pub fn held_at(&self, flow_m3_per_s: f64, same_ratio: f64) -> Option<(f64, f64, bool)> {
        let (low, high) = (self.flow_low_m3_per_s?, self.flow_high_m3_per_s?);
        let reaches =
            flow_m3_per_s >= low * (1.0 - same_ratio) && flow_m3_per_s <= high * (1.0 + same_ratio);
        let held = match self.p_max_pa {
            Some(p_max) => {
                let by_power = self.power_w.map_or(f64::INFINITY, |w| w / flow_m3_per_s);
                p_max.min(by_power)
            }
            None => self.held_pa?,
        };
        // Off the measured flow along the power limit the pressure is off by as much.
        let off = (flow_m3_per_s / flow_m3_per_s.clamp(low, high)).ln();
        let is_beyond_stroke = self
            .q_max_m3_per_s
            .is_some_and(|q| flow_m3_per_s > q * (1.0 + same_ratio));
        let u = self.u_held_ratio?.hypot(off);
        (held.is_finite() && held > 0.0 && u.is_finite()).then_some((
            held,
            u,
            reaches && !is_beyond_stroke,
        ))
    }
}
