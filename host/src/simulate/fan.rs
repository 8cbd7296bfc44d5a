//! The fan on the wall: when its edges stay heavy, how thick it lays the film, when the film runs.
//!
//! An even fan needs a sheet thin enough and fast enough to break up before its edges gather. The
//! measure used here is a product of powers of the Reynolds and Weber numbers of the jet, of how widely
//! the opening is spread and of how far the wall is; each formulation needs its own value of it. Its
//! trends are what the trade reports: thinner, warmer, a larger opening and a narrower fan clear the
//! tails, and so does pressure. The exponents are chosen, not published: the pressure that clears then
//! goes with viscosity to the power 0.7, with the fan's width to 0.5 and with the opening to -1. The film
//! is what lands on the area swept; it runs when it is thicker than its yield stress can hold.

use super::fluid_path::{FluidPath, PathPoint};
use super::liquid::LiquidState;
use super::orifice::Orifice;

/// How the hand moves the gun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// Speed along the wall.
    pub speed_m_per_s: f64,
    /// Part of the liquid that lands, 0 to 1.
    pub transfer_ratio: f64,
    /// Part of each strip that the next one covers, 0 to 1.
    pub overlap_ratio: f64,
}

impl Pass {
    /// Mean wet film, m, of a flow spread over a fan width.
    ///
    /// Derived here: flow that lands over area swept per time.
    #[must_use]
    pub fn wet_film_m(&self, flow_m3_per_s: f64, fan_width_m: f64) -> f64 {
        flow_m3_per_s * self.transfer_ratio
            / (self.speed_m_per_s * fan_width_m * (1.0 - self.overlap_ratio))
    }

    /// Flow, m3/s, whose film is just held by its yield stress.
    #[must_use]
    pub fn run_flow_m3_per_s(&self, state: &LiquidState, fan_width_m: f64) -> f64 {
        state.standing_film_m() / self.wet_film_m(1.0, fan_width_m)
    }
}

/// Distance from gun to wall, m: about 12 inches (common practice, no source).
const WALL_DISTANCE_M: f64 = 0.305;

/// How well the fan breaks up at a pressure before the opening, on the scale of
/// [`super::liquid::Liquid::tail_number`].
#[must_use]
pub fn evenness(state: &LiquidState, orifice: &Orifice, fan_width_m: f64, tip_pa: f64) -> f64 {
    let jet_m_per_s = (2.0 * tip_pa.max(0.0) / state.density_kg_per_m3).sqrt();
    let reynolds = orifice.reynolds(state, jet_m_per_s);
    let weber = state.density_kg_per_m3 * jet_m_per_s.powi(2) * orifice.diameter_m
        / state.surface_tension_n_per_m;
    reynolds.powf(0.42)
        * weber.powf(0.39)
        * (orifice.diameter_m / fan_width_m).powf(0.30)
        * (WALL_DISTANCE_M / orifice.diameter_m).powf(0.51)
}

/// Pressure before the opening, Pa, from which the fan is even; searched between 1 kPa and 1 GPa.
#[must_use]
pub fn clear_tip_pa(state: &LiquidState, orifice: &Orifice, fan_width_m: f64) -> f64 {
    let (mut low, mut high) = (1.0e3f64.ln(), 1.0e9f64.ln());
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if evenness(state, orifice, fan_width_m, middle.exp()) < state.tail_number {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.5 * (low + high)).exp()
}

/// Where along the path the fan becomes even.
#[must_use]
pub fn clear_point(path: &FluidPath, fan_width_m: f64) -> PathPoint {
    path.at_tip(clear_tip_pa(&path.state, &path.orifice, fan_width_m))
}

/// Where along the path the film begins to run.
#[must_use]
pub fn run_point(path: &FluidPath, fan_width_m: f64, pass: &Pass) -> PathPoint {
    path.at_flow(pass.run_flow_m3_per_s(&path.state, fan_width_m))
}

/// The grade of tails, 0 to 3, at a ratio of pressure to the one that clears.
#[must_use]
pub fn tail_grade(pressure_ratio: f64) -> u8 {
    match pressure_ratio {
        r if r >= 1.0 => 0,
        r if r >= 0.86 => 1,
        r if r >= 0.70 => 2,
        _ => 3,
    }
}

#[cfg(test)]
mod tests {
    use super::super::fluid_path::tests::test_path;
    use super::super::liquid::{REFERENCE_K, tests::test_enamel};
    use super::*;

    const WIDTH_M: f64 = 0.203;
    const PASS: Pass = Pass {
        speed_m_per_s: 0.5,
        transfer_ratio: 0.75,
        overlap_ratio: 0.4,
    };

    /// What the trade reports (common practice, no source): each change in its direction.
    #[test]
    fn thinner_warmer_larger_and_narrower_clear_the_tails() {
        let orifice = test_path().orifice;
        let clear = |celsius: f64, thinner: f64, growth: f64, width_m: f64| {
            let piece = Orifice {
                diameter_m: orifice.diameter_m * growth,
                ..orifice
            };
            clear_tip_pa(
                &test_enamel().at(273.15 + celsius, thinner),
                &piece,
                width_m,
            )
        };
        let base = clear(20.0, 0.0, 1.0, WIDTH_M);
        assert!(clear(20.0, 0.05, 1.0, WIDTH_M) < base);
        assert!(clear(30.0, 0.0, 1.0, WIDTH_M) < base);
        assert!(clear(20.0, 0.0, 1.1, WIDTH_M) < base);
        assert!(clear(20.0, 0.0, 1.0, 0.5 * WIDTH_M) < base);
        // From a warm shop to an overnight van the pressure changes by a factor of several.
        assert!(clear(3.0, 0.0, 1.0, WIDTH_M) / clear(28.0, 0.0, 1.0, WIDTH_M) > 2.0);
    }

    /// The exponents as the module states them, for a liquid whose viscosity does not depend on shear.
    #[test]
    fn clearing_pressure_goes_with_the_stated_powers() {
        let mut plain = test_enamel();
        plain.rest_viscosity_pa_s = plain.high_shear_viscosity_pa_s;
        let orifice = test_path().orifice;
        let clear = |viscosity_factor: f64, diameter_factor: f64, width_m: f64| {
            let mut liquid = plain.clone();
            liquid.rest_viscosity_pa_s *= viscosity_factor;
            liquid.high_shear_viscosity_pa_s *= viscosity_factor;
            let piece = Orifice {
                diameter_m: orifice.diameter_m * diameter_factor,
                ..orifice
            };
            clear_tip_pa(&liquid.at(REFERENCE_K, 0.0), &piece, width_m)
        };
        let base = clear(1.0, 1.0, WIDTH_M);
        let power = |pressure_pa: f64| (pressure_pa / base).log2();
        assert!((power(clear(2.0, 1.0, WIDTH_M)) - 0.7).abs() < 1e-6);
        assert!((power(clear(1.0, 2.0, WIDTH_M)) + 1.0).abs() < 1e-6);
        assert!((power(clear(1.0, 1.0, 2.0 * WIDTH_M)) - 0.5).abs() < 1e-6);
    }

    #[test]
    fn evenness_is_the_tail_number_where_the_fan_clears() {
        let path = test_path();
        let point = clear_point(&path, WIDTH_M);
        let there = evenness(&path.state, &path.orifice, WIDTH_M, point.tip_pa);
        assert!((there / path.state.tail_number - 1.0).abs() < 1e-6);
    }

    /// 0.6 L/min at 0.5 m/s over 203 mm with 40 % overlap, three quarters landing: 123 um by hand.
    #[test]
    fn film_is_flow_over_swept_area_and_a_second_pass_doubles_it() {
        let film_m = PASS.wet_film_m(1.0e-5, WIDTH_M);
        assert!((film_m - 1.2315e-4).abs() < 1e-8, "{film_m}");
        let twice = Pass {
            speed_m_per_s: 0.25,
            ..PASS
        };
        assert!((twice.wet_film_m(1.0e-5, WIDTH_M) / film_m - 2.0).abs() < 1e-12);
    }

    #[test]
    fn the_film_runs_from_the_flow_that_its_yield_stress_holds() {
        let state = test_enamel().at(REFERENCE_K, 0.0);
        let flow = PASS.run_flow_m3_per_s(&state, WIDTH_M);
        let film_m = PASS.wet_film_m(flow, WIDTH_M);
        assert!((film_m / state.standing_film_m() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn grades_step_down_towards_the_clear_pressure() {
        let grades: Vec<u8> = [0.5, 0.75, 0.9, 1.0, 1.4].map(tail_grade).to_vec();
        assert_eq!(grades, [3, 2, 1, 0, 0]);
    }
}
