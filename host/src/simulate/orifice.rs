//! A tip's opening: which pressure drives which flow through it.
//!
//! The discharge coefficient depends on the Reynolds number of the very flow that it decides, with
//! the viscosity at the shear rate of that flow: an implicit law. It is the fit of Lichtarowicz,
//! Duggins and Markland for long orifices, continued to creeping flow. Where it is used here (land of
//! 1.5 to 4 diameters) it also meets the flow tables that tips are sold by; the tests hold it against
//! both. Pressure is given explicitly for a flow; the inverse is searched in [`super::fluid_path`].

use super::liquid::LiquidState;

/// Below this Reynolds number the flow creeps: pressure grows in proportion to flow. The published fit
/// begins at 10; its continuation only has to be monotone, since no rig sprays there.
const CREEPING_REYNOLDS: f64 = 20.0;

/// The opening of one tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orifice {
    /// Diameter of the round hole of the same area.
    pub diameter_m: f64,
    /// Length of the land over that diameter.
    pub land_ratio: f64,
    /// Discharge coefficient of this very piece over that of the fit: its inlet edge.
    pub edge_factor: f64,
}

impl Orifice {
    /// Area of the opening, m2.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.diameter_m * self.diameter_m
    }

    /// Reynolds number of a mean velocity, with the viscosity at the wall's shear rate `8 v / d`.
    #[must_use]
    pub fn reynolds(&self, state: &LiquidState, velocity_m_per_s: f64) -> f64 {
        let shear_rate_per_s = 8.0 * velocity_m_per_s / self.diameter_m;
        state.density_kg_per_m3 * velocity_m_per_s * self.diameter_m
            / state.viscosity_pa_s(shear_rate_per_s)
    }

    /// Pressure drop, Pa, that drives a flow (m3/s, not negative) through the opening.
    #[must_use]
    pub fn pressure_drop_pa(&self, state: &LiquidState, flow_m3_per_s: f64) -> f64 {
        if flow_m3_per_s <= 0.0 {
            return 0.0;
        }
        let velocity_m_per_s = flow_m3_per_s / self.area_m2();
        let coefficient = self.edge_factor
            * discharge_coefficient(self.reynolds(state, velocity_m_per_s), self.land_ratio);
        0.5 * state.density_kg_per_m3 * (velocity_m_per_s / coefficient).powi(2)
    }
}

/// Discharge coefficient of a sharp-edged orifice with a land of `land_ratio` diameters.
///
/// *Source*: Lichtarowicz, Duggins and Markland, Discharge coefficients for incompressible
/// non-cavitating flow through long orifices, J. Mech. Eng. Sci. 7 (1965), equations for the ultimate
/// coefficient and its fall with the Reynolds number (from memory). Below a Reynolds number
/// of 20: creeping flow, `Cd` in proportion to the square root (derived here).
#[must_use]
pub fn discharge_coefficient(reynolds: f64, land_ratio: f64) -> f64 {
    let fitted = reynolds.max(CREEPING_REYNOLDS);
    let ultimate = 0.827 - 0.0085 * land_ratio;
    let viscous = 20.0 / fitted * (1.0 + 2.25 * land_ratio);
    let recovery = 0.005 * land_ratio / (1.0 + 7.5 * (0.000_15 * fitted).log10().powi(2));
    let coefficient = 1.0 / (1.0 / ultimate + viscous - recovery);
    if reynolds < CREEPING_REYNOLDS {
        coefficient * (reynolds / CREEPING_REYNOLDS).sqrt()
    } else {
        coefficient
    }
}

#[cfg(test)]
mod tests {
    use super::super::liquid::{Liquid, REFERENCE_K, tests::test_enamel};
    use super::*;
    use crate::units::{CubicMetrePerSecond, M3_PER_US_GAL, Metre, PA_PER_PSI};

    fn orifice(thou: f64) -> Orifice {
        Orifice {
            diameter_m: Metre::from_thou(thou).si(),
            land_ratio: 2.5,
            edge_factor: 1.0,
        }
    }

    /// Flow through an orifice by bisection on the explicit law.
    fn flow_at(orifice: &Orifice, state: &LiquidState, pressure_pa: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0e-3);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if orifice.pressure_drop_pa(state, middle) < pressure_pa {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    /// Between a thin sharp-edged plate (ISO 5167-2, small diameter ratio: 0.596) and a rounded
    /// nozzle (ISO 5167-3, ISA 1932: 0.99, both the limits at a high Reynolds number, from memory);
    /// a land of two diameters reattaches the jet: 0.81 (Lichtarowicz et al. 1965, from memory).
    #[test]
    fn turbulent_limit_lies_between_thin_plate_and_nozzle() {
        let limit = discharge_coefficient(1.0e7, 2.0);
        assert!(limit > 0.596 && limit < 0.99);
        assert!((limit - 0.81).abs() < 0.005, "{limit}");
    }

    /// Lichtarowicz et al. 1965, figure of `Cd` against Reynolds number for a land of two diameters
    /// (read from memory, hence the wide bounds): about 0.43 at 100, 0.75 at 1000.
    #[test]
    fn coefficient_falls_with_the_reynolds_number_as_published() {
        assert!((discharge_coefficient(100.0, 2.0) - 0.43).abs() < 0.03);
        assert!((discharge_coefficient(1000.0, 2.0) - 0.75).abs() < 0.03);
        let mut below = 0.0;
        for step in 0..120 {
            let here = discharge_coefficient(10f64.powf(f64::from(step) / 20.0), 2.5);
            assert!(here > below, "step {step}");
            below = here;
        }
    }

    /// Creeping flow: pressure in proportion to flow, whatever the geometry.
    #[test]
    fn creeping_flow_is_linear_in_pressure() {
        let mut thick = test_enamel();
        thick.rest_viscosity_pa_s = 500.0;
        thick.high_shear_viscosity_pa_s = 500.0;
        let state = thick.at(REFERENCE_K, 0.0);
        let tip = orifice(15.0);
        let ratio = tip.pressure_drop_pa(&state, 2.0e-7) / tip.pressure_drop_pa(&state, 1.0e-7);
        assert!((ratio - 2.0).abs() < 1e-9, "{ratio}");
    }

    /// Water through tips at 2000 psi, US gal/min (common practice, no source: tables on which
    /// tips are sold, from memory).
    #[test]
    fn water_flow_of_tips_is_what_tip_tables_say() {
        let water = Liquid::water().at(REFERENCE_K, 0.0);
        for (thou, gal_min) in [(11.0, 0.13), (15.0, 0.24), (17.0, 0.31), (21.0, 0.47)] {
            let flow = flow_at(&orifice(thou), &water, 2000.0 * PA_PER_PSI);
            let got = flow * 60.0 / M3_PER_US_GAL;
            assert!((got / gal_min - 1.0).abs() < 0.06, "{thou} thou: {got}");
        }
    }

    /// Area ratio of 23 to 16 thou: 2.07 (common practice, no source); flow of water follows it.
    #[test]
    fn area_ratio_of_23_and_16_thou_is_2_07() {
        let (small, large) = (orifice(16.0), orifice(23.0));
        assert!((large.area_m2() / small.area_m2() - 2.07).abs() < 0.005);
        let water = Liquid::water().at(REFERENCE_K, 0.0);
        let ratio = flow_at(&large, &water, 1.0e7) / flow_at(&small, &water, 1.0e7);
        assert!((ratio - 2.07).abs() < 0.02, "{ratio}");
    }

    #[test]
    fn a_coating_passes_less_than_water_and_its_exponent_is_above_one_half() {
        let water = Liquid::water().at(REFERENCE_K, 0.0);
        let enamel = test_enamel().at(REFERENCE_K, 0.0);
        let tip = orifice(13.0);
        let (low, high) = (6.0e6, 1.5e7);
        let exponent = |state: &LiquidState| {
            (flow_at(&tip, state, high) / flow_at(&tip, state, low)).ln() / (high / low).ln()
        };
        assert!((exponent(&water) - 0.5).abs() < 0.005);
        assert!(exponent(&enamel) > 0.54 && exponent(&enamel) < 0.75);
        let flow = CubicMetrePerSecond(flow_at(&tip, &enamel, high)).as_l_min();
        assert!(flow > 0.3 && flow < 0.62, "{flow}");
    }
}
