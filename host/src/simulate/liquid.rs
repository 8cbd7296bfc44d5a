//! What is sprayed: viscosity against shear rate and temperature, surface tension, yield stress.
//!
//! A coating thins under shear (Cross 1965: a plateau at rest, a plateau at high shear, a power law
//! between) and with warmth (Vogel-Fulcher-Tammann, which the Andrade line is a special case of).
//! A warm liquid behaves as a cold one sheared more slowly (time-temperature superposition).
//! Water is the same law with both plateaus equal; its constants are checked against published
//! viscosities below. Nothing here knows a rig or a tip.

/// Temperature at which a liquid's viscosities are given.
pub const REFERENCE_K: f64 = 293.15;

/// A liquid as it stands in the tin, before thinner.
#[derive(Debug, Clone, PartialEq)]
pub struct Liquid {
    /// Name in notes and settings.
    pub name: String,
    /// Density.
    pub density_kg_per_m3: f64,
    /// Volume solids, 0 to 1.
    pub volume_solids_ratio: f64,
    /// Most thinner that the label allows, 0 to 1 by volume of coating.
    pub max_thinner_ratio: f64,
    /// Density of the thinner.
    pub thinner_density_kg_per_m3: f64,
    /// Dynamic viscosity at rest, at [`REFERENCE_K`].
    pub rest_viscosity_pa_s: f64,
    /// Dynamic viscosity at very high shear, at [`REFERENCE_K`].
    pub high_shear_viscosity_pa_s: f64,
    /// Time constant of the Cross law at [`REFERENCE_K`], s.
    pub cross_time_s: f64,
    /// Exponent of the Cross law, 0 to 1.
    pub cross_exponent: f64,
    /// `B` of `exp(B / (T - T0))`, K.
    pub vogel_k: f64,
    /// `T0` of `exp(B / (T - T0))`, K; zero makes it the Andrade line.
    pub vogel_offset_k: f64,
    /// How much the logarithm of viscosity falls with thinner, per unit of thinner ratio.
    pub thinning_sensitivity: f64,
    /// Surface tension.
    pub surface_tension_n_per_m: f64,
    /// Yield stress, which holds a wet film on a wall.
    pub yield_stress_pa: f64,
    /// What this formulation needs for an even fan: see [`super::fan`].
    pub tail_number: f64,
}

impl Liquid {
    /// Water. Viscosity `2.414e-5 Pa s * 10^(247.8 / (T - 140))` is a common engineering fit (from
    /// memory); the tests hold it against IAPWS values.
    #[must_use]
    pub fn water() -> Self {
        let vogel_k = 247.8 * std::f64::consts::LN_10;
        let at_reference_pa_s = 2.414e-5 * (vogel_k / (REFERENCE_K - 140.0)).exp();
        Self {
            name: "water".into(),
            density_kg_per_m3: 998.2,
            volume_solids_ratio: 0.0,
            max_thinner_ratio: 0.0,
            thinner_density_kg_per_m3: 998.2,
            rest_viscosity_pa_s: at_reference_pa_s,
            high_shear_viscosity_pa_s: at_reference_pa_s,
            cross_time_s: 1.0,
            cross_exponent: 0.5,
            vogel_k,
            vogel_offset_k: 140.0,
            thinning_sensitivity: 0.0,
            surface_tension_n_per_m: 0.0728,
            yield_stress_pa: 0.0,
            tail_number: 0.0,
        }
    }

    /// Viscosity at a temperature over viscosity at [`REFERENCE_K`], at rest.
    #[must_use]
    pub fn temperature_factor(&self, temperature_k: f64) -> f64 {
        let exponent = |t: f64| self.vogel_k / (t - self.vogel_offset_k);
        (exponent(temperature_k) - exponent(REFERENCE_K)).exp()
    }

    /// The liquid at a temperature, with thinner mixed in (0 to 1 by volume of coating).
    #[must_use]
    pub fn at(&self, temperature_k: f64, thinner_ratio: f64) -> LiquidState {
        let factor = self.temperature_factor(temperature_k)
            * (-self.thinning_sensitivity * thinner_ratio).exp();
        LiquidState {
            density_kg_per_m3: (self.density_kg_per_m3
                + thinner_ratio * self.thinner_density_kg_per_m3)
                / (1.0 + thinner_ratio),
            rest_viscosity_pa_s: self.rest_viscosity_pa_s * factor,
            high_shear_viscosity_pa_s: self.high_shear_viscosity_pa_s * factor,
            cross_time_s: self.cross_time_s * factor,
            cross_exponent: self.cross_exponent,
            surface_tension_n_per_m: self.surface_tension_n_per_m,
            yield_stress_pa: self.yield_stress_pa
                * (-0.5 * self.thinning_sensitivity * thinner_ratio).exp(),
            tail_number: self.tail_number,
        }
    }
}

/// A liquid at one temperature with one amount of thinner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidState {
    /// Density.
    pub density_kg_per_m3: f64,
    /// Dynamic viscosity at rest.
    pub rest_viscosity_pa_s: f64,
    /// Dynamic viscosity at very high shear.
    pub high_shear_viscosity_pa_s: f64,
    /// Time constant of the Cross law, s.
    pub cross_time_s: f64,
    /// Exponent of the Cross law.
    pub cross_exponent: f64,
    /// Surface tension.
    pub surface_tension_n_per_m: f64,
    /// Yield stress.
    pub yield_stress_pa: f64,
    /// What the formulation needs for an even fan.
    pub tail_number: f64,
}

impl LiquidState {
    /// Dynamic viscosity at a shear rate (1/s, not negative).
    ///
    /// *Source*: Cross, Rheology of non-Newtonian fluids, J. Colloid Sci. 20 (1965), equation 2.
    #[must_use]
    pub fn viscosity_pa_s(&self, shear_rate_per_s: f64) -> f64 {
        let span_pa_s = self.rest_viscosity_pa_s - self.high_shear_viscosity_pa_s;
        if span_pa_s == 0.0 {
            return self.high_shear_viscosity_pa_s;
        }
        let thinning = (self.cross_time_s * shear_rate_per_s).powf(self.cross_exponent);
        self.high_shear_viscosity_pa_s + span_pa_s / (1.0 + thinning)
    }

    /// Thickest wet film that stands on a vertical wall: yield stress over weight.
    ///
    /// Derived here: the shear stress at the wall under a film of thickness `h` is `rho g h`.
    #[must_use]
    pub fn standing_film_m(&self) -> f64 {
        self.yield_stress_pa / (self.density_kg_per_m3 * 9.806_65)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// An invented coating of middling thickness for the tests of this folder.
    pub(crate) fn test_enamel() -> Liquid {
        Liquid {
            name: "test enamel".into(),
            density_kg_per_m3: 1250.0,
            volume_solids_ratio: 0.4,
            max_thinner_ratio: 0.1,
            thinner_density_kg_per_m3: 780.0,
            rest_viscosity_pa_s: 2.0,
            high_shear_viscosity_pa_s: 0.05,
            cross_time_s: 0.05,
            cross_exponent: 0.7,
            vogel_k: 1500.0,
            vogel_offset_k: 100.0,
            thinning_sensitivity: 6.0,
            surface_tension_n_per_m: 0.03,
            yield_stress_pa: 2.0,
            tail_number: 100.0,
        }
    }

    /// IAPWS 2008 at 0.1 MPa: 20 C from `tests/checks/README.md`, the others from memory.
    #[test]
    fn water_has_its_published_viscosity() {
        let water = Liquid::water();
        for (celsius, viscosity_mpa_s) in [(10.0, 1.3059), (20.0, 1.0016), (40.0, 0.6527)] {
            let got = water.at(273.15 + celsius, 0.0).viscosity_pa_s(1.0e4) * 1e3;
            assert!(
                (got / viscosity_mpa_s - 1.0).abs() < 0.01,
                "{celsius} C: {got}"
            );
        }
    }

    #[test]
    fn cross_law_joins_its_plateaus_and_falls_between() {
        let state = test_enamel().at(REFERENCE_K, 0.0);
        assert!((state.viscosity_pa_s(0.0) - 2.0).abs() < 1e-12);
        assert!((state.viscosity_pa_s(1.0e9) / 0.05 - 1.0).abs() < 0.01);
        let mut above = f64::INFINITY;
        for decade in -2..8 {
            let here = state.viscosity_pa_s(10f64.powi(decade));
            assert!(here < above);
            above = here;
        }
        // At the shear rate 1 / time constant the span is halved, by the law's own definition.
        assert!((state.viscosity_pa_s(20.0) - (0.05 + 1.95 / 2.0)).abs() < 1e-12);
    }

    #[test]
    fn cold_thickens_and_thinner_thins() {
        let enamel = test_enamel();
        let shear = 100.0;
        let normal = enamel.at(REFERENCE_K, 0.0).viscosity_pa_s(shear);
        assert!(enamel.at(278.15, 0.0).viscosity_pa_s(shear) > 1.3 * normal);
        assert!(enamel.at(REFERENCE_K, 0.05).viscosity_pa_s(shear) < 0.9 * normal);
        // 10 % of a thinner of 780 in a coating of 1250 kg/m3, volumes added.
        let mixed = enamel.at(REFERENCE_K, 0.1).density_kg_per_m3;
        assert!((mixed - (1250.0 + 78.0) / 1.1).abs() < 1e-9);
    }

    /// Derived by hand: 2 Pa over 1250 kg/m3 * 9.80665 m/s2.
    #[test]
    fn yield_stress_holds_a_film_of_its_weight() {
        let film_m = test_enamel().at(REFERENCE_K, 0.0).standing_film_m();
        assert!((film_m - 1.6316e-4).abs() < 1e-8, "{film_m}");
    }
}
