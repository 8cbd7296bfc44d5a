//! Pressure lost in the hose between the pressure tap and the gun.
//!
//! Laminar flow of a power-law liquid (Metzner and Reed, AIChE J. 1 (1955) 434): the wall shear rate is
//! `8 v / D * (3 m + 1) / (4 m)`. Above a Reynolds number of about 2100 the loss of turbulent flow in a
//! smooth bore (Blasius) is larger and taken instead; of the two always the larger. Straight hose; bends
//! and couplings are part of the stated doubt. Checked against an integrated velocity profile and
//! against `fluids` in `tests/tests/checks_apply_plan.rs`.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

/// Relative standard uncertainty of a computed loss: one viscosity reading at one shear rate is carried
/// to the hose's, and bends and couplings are not known (common practice, no source).
pub const U_LOSS_RATIO: f64 = 0.3;

/// A hose filled with a coating.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Hose {
    /// Length, m.
    pub length_m: f64,
    /// Bore, m.
    pub bore_m: f64,
    /// Density of the coating, kg/m3.
    pub density_kg_per_m3: f64,
    /// Viscosity of the coating at `shear_rate_per_s`, Pa s.
    pub viscosity_pa_s: f64,
    /// Shear rate of that viscosity, 1/s; without meaning for a shear index of 1.
    pub shear_rate_per_s: f64,
    /// Shear index, 1 for a Newtonian liquid.
    pub shear_index: f64,
}

impl Hose {
    /// True when every number is finite and above zero.
    #[must_use]
    pub fn is_usable(&self) -> bool {
        [
            self.length_m,
            self.bore_m,
            self.density_kg_per_m3,
            self.viscosity_pa_s,
            self.shear_rate_per_s,
            self.shear_index,
        ]
        .iter()
        .all(|x| x.is_finite() && *x > 0.0)
    }

    /// Pressure lost at a volume flow (m3/s), Pa; zero at no flow.
    #[must_use]
    pub fn loss_pa(&self, flow_m3_per_s: f64) -> f64 {
        let (m, d) = (self.shear_index, self.bore_m);
        let v = flow_m3_per_s.max(0.0) / (PI / 4.0 * d * d);
        let wall_shear_rate = 8.0 * v / d * (3.0 * m + 1.0) / (4.0 * m);
        let consistency = self.viscosity_pa_s * self.shear_rate_per_s.powf(1.0 - m);
        let laminar = 4.0 * self.length_m / d * consistency * wall_shear_rate.powf(m);
        if v == 0.0 {
            return 0.0;
        }
        let apparent_viscosity = consistency * wall_shear_rate.powf(m - 1.0);
        let reynolds = self.density_kg_per_m3 * v * d / apparent_viscosity;
        let darcy = 0.3164 / reynolds.powf(0.25);
        let dynamic = 0.5 * self.density_kg_per_m3 * v * v;
        laminar.max(darcy * self.length_m / d * dynamic)
    }
}
