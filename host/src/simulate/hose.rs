//! The hose: pressure lost along it, and how much it swells.
//!
//! Laminar flow of a shear-thinning liquid in a tube by the Weissenberg-Rabinowitsch correction, and
//! Blasius' law where thin liquids go turbulent. Checked against Hagen-Poiseuille and the
//! exact power-law solution below; the suite also holds it against the `fluids` library.

use super::liquid::LiquidState;

/// A hose between pump and gun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    /// Length.
    pub length_m: f64,
    /// Bore.
    pub bore_m: f64,
    /// Pressure rise per relative change of volume, wall and liquid together, Pa.
    pub stiffness_pa: f64,
}

impl Hose {
    /// Volume taken up per pascal, m3/Pa.
    #[must_use]
    pub fn compliance_m3_per_pa(&self) -> f64 {
        let area_m2 = std::f64::consts::FRAC_PI_4 * self.bore_m * self.bore_m;
        area_m2 * self.length_m / self.stiffness_pa
    }

    /// Pressure lost along the hose at a flow (m3/s, not negative), Pa.
    #[must_use]
    pub fn pressure_drop_pa(&self, state: &LiquidState, flow_m3_per_s: f64) -> f64 {
        if flow_m3_per_s <= 0.0 || self.length_m <= 0.0 {
            return 0.0;
        }
        let area_m2 = std::f64::consts::FRAC_PI_4 * self.bore_m * self.bore_m;
        let velocity_m_per_s = flow_m3_per_s / area_m2;
        let nominal_rate_per_s = 8.0 * velocity_m_per_s / self.bore_m;
        let stress_pa = wall_stress_pa(state, nominal_rate_per_s);
        let laminar_pa = 4.0 * self.length_m * stress_pa / self.bore_m;
        let effective_viscosity_pa_s = stress_pa / nominal_rate_per_s;
        let reynolds =
            state.density_kg_per_m3 * velocity_m_per_s * self.bore_m / effective_viscosity_pa_s;
        laminar_pa.max(self.turbulent_drop_pa(state, velocity_m_per_s, reynolds))
    }

    /// Blasius (1913): Darcy friction factor `0.316 Re^-1/4` above a Reynolds number of 2300, else nothing.
    fn turbulent_drop_pa(&self, state: &LiquidState, velocity_m_per_s: f64, reynolds: f64) -> f64 {
        if reynolds < 2300.0 {
            return 0.0;
        }
        let friction = 0.316 * reynolds.powf(-0.25);
        friction * self.length_m / self.bore_m
            * 0.5
            * state.density_kg_per_m3
            * velocity_m_per_s.powi(2)
    }
}

/// Shear stress at the wall of a tube at the nominal shear rate `8 v / D`.
///
/// The true shear rate at the wall is the nominal one times `(3 s + 1) / (4 s)`, `s` the local slope of
/// log stress against log rate (Weissenberg-Rabinowitsch-Mooney; exact for a power law).
fn wall_stress_pa(state: &LiquidState, nominal_rate_per_s: f64) -> f64 {
    let stress_pa = |rate: f64| rate * state.viscosity_pa_s(rate);
    let step: f64 = 1.05;
    let slope =
        (stress_pa(nominal_rate_per_s * step) / stress_pa(nominal_rate_per_s)).ln() / step.ln();
    stress_pa(nominal_rate_per_s * (3.0 * slope + 1.0) / (4.0 * slope))
}

#[cfg(test)]
mod tests {
    use super::super::liquid::{Liquid, REFERENCE_K, tests::test_enamel};
    use super::*;

    const HOSE: Hose = Hose {
        length_m: 7.5,
        bore_m: 6.4e-3,
        stiffness_pa: 2.0e8,
    };

    /// Hagen-Poiseuille, `128 mu L q / (pi D^4)`, to rounding.
    #[test]
    fn newtonian_loss_is_hagen_poiseuille() {
        let mut thick = Liquid::water();
        thick.rest_viscosity_pa_s = 0.2;
        thick.high_shear_viscosity_pa_s = 0.2;
        let flow = 1.0e-5;
        let exact = 128.0 * 0.2 * HOSE.length_m * flow / (std::f64::consts::PI * 6.4e-3f64.powi(4));
        let got = HOSE.pressure_drop_pa(&thick.at(REFERENCE_K, 0.0), flow);
        assert!((got / exact - 1.0).abs() < 1e-9, "{got} {exact}");
    }

    /// Power-law liquid in a tube: `dp = 4 L K ((3n+1)/(4n) * 8v/D)^n / D` exactly (Metzner and
    /// Reed 1955). Far above its knee and far from its upper plateau the Cross law is one.
    #[test]
    fn power_law_loss_is_the_exact_solution() {
        let mut liquid = test_enamel();
        liquid.rest_viscosity_pa_s = 1.0e5;
        liquid.high_shear_viscosity_pa_s = 1.0e-9;
        liquid.cross_time_s = 1.0e4;
        liquid.cross_exponent = 0.6;
        let n: f64 = 0.4;
        let consistency = 1.0e5 / 1.0e4f64.powf(0.6);
        let flow = 1.0e-5;
        let velocity = flow / (std::f64::consts::FRAC_PI_4 * 6.4e-3f64.powi(2));
        let rate = (3.0 * n + 1.0) / (4.0 * n) * 8.0 * velocity / 6.4e-3;
        let exact = 4.0 * HOSE.length_m / 6.4e-3 * consistency * rate.powf(n);
        let got = HOSE.pressure_drop_pa(&liquid.at(REFERENCE_K, 0.0), flow);
        assert!((got / exact - 1.0).abs() < 1e-3, "{got} {exact}");
    }

    /// Water at 4 L/min: Reynolds number 13 200, Blasius' friction factor 0.0295.
    #[test]
    fn thin_liquids_go_turbulent() {
        let flow = 4.0e-3 / 60.0;
        let water = Liquid::water().at(REFERENCE_K, 0.0);
        let velocity = flow / (std::f64::consts::FRAC_PI_4 * 6.4e-3f64.powi(2));
        let exact = 0.0295 * 7.5 / 6.4e-3 * 0.5 * 998.2 * velocity * velocity;
        let got = HOSE.pressure_drop_pa(&water, flow);
        assert!((got / exact - 1.0).abs() < 0.01, "{got} {exact}");
    }

    /// 7.5 m of 6.4 mm bore hold 0.241 L; at 2e8 Pa that is 1.21 mL for each 10 bar.
    #[test]
    fn compliance_is_volume_over_stiffness() {
        let swelling_ml = HOSE.compliance_m3_per_pa() * 1.0e6 * 1e6;
        assert!((swelling_ml - 1.206).abs() < 0.005, "{swelling_ml}");
    }
}
