use super::*;
use crate::analysis::calibration::water::water_density;
use crate::units::Kelvin;

fn conditions() -> CatchConditions {
    CatchConditions {
        density_kg_per_m3: Estimate::new(998.2, 0.0, 0.3),
        u_scale_ratio: 0.0005,
    }
}

/// A catch of `n` pulses at `hz` through a meter of `k` pulses a litre.
fn catch(n: u32, hz: f64, k_per_l: f64) -> TimedCatch {
    let volume_m3 = f64::from(n) / (k_per_l * 1000.0);
    let mass_kg = volume_m3 * 998.2;
    TimedCatch {
        // What a scale in air shows for that mass.
        caught_kg: mass_kg * (1.0 - 1.2 / 998.2) / (1.0 - 1.2 / 8000.0),
        u_caught_kg: 0.0005,
        duration_s: f64::from(n) / hz,
        u_duration_s: 0.1,
        n_edges: n,
    }
}

#[test]
fn a_perfect_meter_gives_back_its_constant_with_the_common_part_of_the_budget() {
    let catches = [20.0, 40.0, 60.0].map(|hz| catch(3000, hz, 3000.0));
    let k = fit_k_factor(&catches, &conditions()).unwrap();
    assert_eq!(k.form, KFactorForm::Constant);
    let budget = k.budget_at(40.0).unwrap();
    assert!((budget.value / 3.0e6 - 1.0).abs() < 1e-12);
    let row = |code: &str| budget.rows.iter().find(|r| r.code == code).unwrap();
    assert!((row("density").contribution() / 3.0e6 - 0.3 / 998.2).abs() < 1e-9);
    assert!((row("mass_scale").contribution() / 3.0e6 - 0.0005).abs() < 1e-12);
    // Three catches of 3000 pulses: 0.408 / 3000 / sqrt(3).
    let counting = U_COUNT / 3000.0 / 3f64.sqrt();
    assert!((row("pulse_count").contribution() / 3.0e6 / counting - 1.0).abs() < 1e-9);
    assert_eq!(row("scatter_of_catches").contribution(), 0.0);
}

#[test]
fn slip_is_found_and_a_constant_meter_has_none() {
    let slipping =
        [5.0, 10.0, 20.0, 50.0, 100.0].map(|hz: f64| catch(2000, hz, 3000.0 * (1.0 - 0.2 / hz)));
    let k = fit_k_factor(&slipping, &conditions()).unwrap();
    assert!(k.form == KFactorForm::Slip && k.slip_is_significant);
    assert!((k.at(5.0).unwrap().value / (3.0e6 * 0.96) - 1.0).abs() < 1e-9);
    assert!((k.slip_hz_per_m3 / (3.0e6 * 0.2) - 1.0).abs() < 1e-6);
    assert!(k.is_calibrated_at(5.0) && !k.is_calibrated_at(4.9) && !k.is_calibrated_at(f64::NAN));
    let steady = [5.0, 10.0, 20.0, 50.0].map(|hz| catch(2000, hz, 3000.0));
    assert!(
        !fit_k_factor(&steady, &conditions())
            .unwrap()
            .slip_is_significant
    );
}

#[test]
fn scatter_beyond_weighing_and_counting_appears_as_its_own_row() {
    let scattered = [2940.0, 3060.0, 2990.0].map(|k| catch(3000, 40.0, k));
    let k = fit_k_factor(&scattered, &conditions()).unwrap();
    let budget = k.budget_at(40.0).unwrap();
    let scatter = budget
        .rows
        .iter()
        .find(|r| r.code == "scatter_of_catches")
        .unwrap();
    assert!((scatter.dof.unwrap() - 2.0).abs() < 0.01);
    assert!(scatter.contribution() / budget.value > 0.01);
    // Two degrees of freedom: the common uncertainty handed on is wider than one standard one.
    assert!(k.at(40.0).unwrap().u_common > 1.5 * budget.u_combined());
}

#[test]
fn a_single_catch_is_enough_for_a_constant() {
    let k = fit_k_factor(&[catch(500, 10.0, 1500.0)], &conditions()).unwrap();
    assert!((k.at(10.0).unwrap().value / 1.5e6 - 1.0).abs() < 1e-12);
    assert_eq!(k.scatter_ratio, None);
}

#[test]
fn each_unusable_entry_is_refused_by_name() {
    let good = catch(500, 10.0, 1500.0);
    #[track_caller]
    fn check(catches: &[TimedCatch], conditions: &CatchConditions, message: &str) {
        let error = fit_k_factor(catches, conditions).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    check(
        &[],
        &conditions(),
        "no timed catch was given; at least one is needed",
    );
    check(
        &[
            good,
            TimedCatch {
                caught_kg: 0.0,
                ..good
            },
        ],
        &conditions(),
        "mass of catch 2 is 0; it must be a finite number above zero: correct the entry or leave \
         it out",
    );
    check(
        &[TimedCatch {
            duration_s: f64::NAN,
            ..good
        }],
        &conditions(),
        "duration of catch 1 is NaN; it must be a finite number above zero: correct the entry or \
         leave it out",
    );
    check(
        &[TimedCatch { n_edges: 0, ..good }],
        &conditions(),
        "catch 1 has 0 pulses, 20 are needed; catch for longer",
    );
    check(
        &[TimedCatch {
            u_caught_kg: -1.0,
            ..good
        }],
        &conditions(),
        "standard uncertainty of mass of catch 1 is -1; it must be zero or above",
    );
    let light = CatchConditions {
        density_kg_per_m3: Estimate::exact(1.2),
        ..conditions()
    };
    check(
        &[good],
        &light,
        "density 1.2 kg/m3 is outside 500 to 4000 kg/m3; check the unit (1.2 g/mL is 1200 kg/m3)",
    );
}

#[test]
fn a_frequency_without_flow_is_refused() {
    let slipping =
        [5.0, 10.0, 20.0, 50.0].map(|hz: f64| catch(2000, hz, 3000.0 * (1.0 - 1.0 / hz)));
    let k = fit_k_factor(&slipping, &conditions()).unwrap();
    assert_eq!(
        k.at(0.0).unwrap_err().to_string(),
        "pulse frequency 0 Hz is not a finite number above zero"
    );
    assert_eq!(
        k.at(0.5).unwrap_err().to_string(),
        "the fitted K-factor is not above zero at 0.5 Hz; calibrate nearer to that flow"
    );
}

#[test]
fn a_meter_agrees_with_a_catch_or_does_not() {
    let water = CatchConditions {
        density_kg_per_m3: water_density(Kelvin::from_celsius(20.0)).unwrap(),
        u_scale_ratio: 0.001,
    };
    let one = catch(3000, 50.0, 3000.0);
    let q = 1.0e-3 / 60.0;
    let ratio = metered_over_caught(Estimate::new(q, 0.002 * q, 0.0), &one, &water).unwrap();
    assert!((ratio.value - 1.0).abs() < 1e-4 && ratio.interval_95().contains(1.0));
    let off = metered_over_caught(Estimate::new(1.05 * q, 0.002 * q, 0.0), &one, &water).unwrap();
    assert!(!off.interval_95().contains(1.0));
    assert!(metered_over_caught(Estimate::exact(0.0), &one, &water).is_err());
}
