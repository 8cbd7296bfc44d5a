//! Calibration against the outside: water by IAPWS, unit conversions by NIST SP 811, and the
//! K-factor's interval counted over simulated calibrations.
#![allow(
    clippy::unwrap_used,
    reason = "a test fails by unwrapping, its helpers too"
)]

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, Uniform};

use tipcurve::analysis::calibration::k_factor::{
    CatchConditions, KFactorForm, TimedCatch, fit_k_factor,
};
use tipcurve::analysis::calibration::pressure::{SpanPoint, ZeroReading, find_zero, fit_span};
use tipcurve::analysis::calibration::water::{water_density, water_viscosity};
use tipcurve::estimate::Estimate;
use tipcurve::units::{FlowUnit, Kelvin, M3_PER_US_GAL, Metre, PressureUnit};
use tipcurve_tests::check_file::CheckFile;

/// `iapws` implements IAPWS-95 and the 2008 viscosity; the Tanaka density agrees with IAPWS-95 to
/// 1e-6 near 20 degrees and 3e-6 at 40, SR6-08 states its viscosity to 1e-4 of the full formula.
#[test]
fn water_density_and_viscosity_match_iapws() {
    let file = CheckFile::read("reference_water.csv");
    let mut n_rows = 0;
    for row in file.rows() {
        let t = Kelvin::from_celsius(row.number("temperature_c"));
        let density = water_density(t).unwrap().value / row.number("density_kg_per_m3");
        let viscosity = water_viscosity(t).unwrap().value / row.number("dynamic_viscosity_pa_s");
        assert!((density - 1.0).abs() < 1e-5, "{t:?}: {density}");
        assert!((viscosity - 1.0).abs() < 5e-4, "{t:?}: {viscosity}");
        n_rows += 1;
    }
    assert_eq!(n_rows, 8);
}

/// NIST SP 811 (2008), B.8: 1 psi = 6894.757 Pa, 1 US gal = 3.785412 L, 1 mil = 25.4 um.
#[test]
fn units_convert_as_nist_sp_811_says() {
    assert_eq!(PressureUnit::Psi.to_pascal(1.0).si(), 6894.757);
    assert!((M3_PER_US_GAL * 1000.0 - 3.785_412).abs() < 1e-12);
    let gallon_per_minute = FlowUnit::UsGallonPerMinute.in_m3_per_s();
    assert!((gallon_per_minute * 60.0 * 1000.0 - 3.785_412).abs() < 1e-12);
    assert!((Metre::from_thou(1.0).si() - 25.4e-6).abs() < 1e-18);
}

/// Fraction of `n_runs` in which `covers` is true.
fn coverage(n_runs: usize, mut covers: impl FnMut(&mut ChaCha8Rng) -> bool) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(20_240_131);
    let hits = (0..n_runs).filter(|_| covers(&mut rng)).count();
    hits as f64 / n_runs as f64
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Whether the 95 % interval of K at `asked_hz` holds the truth in one simulated calibration.
///
/// `extra` is scatter of the meter itself, relative, that the stated uncertainties do not know.
fn one_calibration(
    rng: &mut ChaCha8Rng,
    hz: &[f64],
    slip_hz: f64,
    extra: f64,
    asked_hz: f64,
) -> bool {
    let (k_per_m3, density) = (2.5e6, 1250.0);
    let u_density = 2.0;
    let u_scale = 0.001;
    let stated_density = density + u_density * normal(rng);
    let scale_error = 1.0 + u_scale * normal(rng);
    let truth = |f: f64| k_per_m3 * (1.0 - slip_hz / f);
    let catches: Vec<TimedCatch> = hz
        .iter()
        .map(|&f| {
            let duration_s = 20.0;
            let k = truth(f) * (1.0 + extra * normal(rng));
            let volume = f * duration_s / k;
            // Pulses between two unsynchronised instants: phase at the begin, whole pulses after it.
            let phase: f64 = Uniform::new(0.0, 1.0).unwrap().sample(rng);
            let n_edges = format!("{:.0}", (f * duration_s + phase).floor());
            let in_air = volume * density * (1.0 - 1.2 / density) / (1.0 - 1.2 / 8000.0);
            TimedCatch {
                caught_kg: in_air * scale_error + 0.001 * normal(rng),
                u_caught_kg: 0.001,
                duration_s: duration_s + 0.1 * normal(rng),
                u_duration_s: 0.1,
                n_edges: n_edges.parse().unwrap(),
            }
        })
        .collect();
    let conditions = CatchConditions {
        density_kg_per_m3: Estimate::new(stated_density, 0.0, u_density),
        u_scale_ratio: u_scale,
    };
    let found = fit_k_factor(&catches, &conditions).unwrap();
    assert_eq!(found.form == KFactorForm::Slip, hz.len() >= 4);
    found
        .at(asked_hz)
        .unwrap()
        .interval_95()
        .contains(truth(asked_hz))
}

/// Lower bound: three binomial standard deviations (0.5 % each at 2000 runs) below 95 %. The
/// interval never uses less than the stated uncertainties, so it may cover more than 95 %.
#[test]
fn k_factor_intervals_cover_the_truth() {
    let wide = [6.0, 12.0, 25.0, 50.0, 75.0, 100.0];
    let cases: [(&str, &[f64], f64, f64, f64); 7] = [
        ("stated uncertainties, middle", &wide, 0.05, 0.0, 30.0),
        ("stated uncertainties, low end", &wide, 0.05, 0.0, 6.0),
        ("meter scatters a little, low end", &wide, 0.05, 0.002, 6.0),
        (
            "meter scatters a little, high end",
            &wide,
            0.05,
            0.002,
            100.0,
        ),
        ("meter scatters, low end", &wide, 0.05, 0.01, 6.0),
        ("meter scatters, high end", &wide, 0.05, 0.01, 100.0),
        (
            "three catches at one flow",
            &[50.0, 50.0, 50.0],
            0.0,
            0.01,
            50.0,
        ),
    ];
    for (name, hz, slip_hz, extra, asked_hz) in cases {
        let share = coverage(2000, |rng| {
            one_calibration(rng, hz, slip_hz, extra, asked_hz)
        });
        println!("{name}: {share}");
        assert!((0.935..=0.995).contains(&share), "{name}: {share}");
    }
}

/// Same bounds for a corrected pressure: zero drifting, gauge with a certificate, reading noise.
#[test]
fn corrected_pressures_cover_the_truth() {
    let share = coverage(2000, |rng| {
        let (gain, before, drift) = (1.01, 3.0e4 * normal(rng), 2.0e4 * normal(rng));
        let moment: f64 = Uniform::new(0.0, 1.0).unwrap().sample(rng);
        let zero_reading = |rng: &mut ChaCha8Rng, pa: f64| ZeroReading {
            indicated_pa: pa + 1000.0 * normal(rng),
            u_indicated_pa: 1000.0,
        };
        let (first, last) = (zero_reading(rng, before), zero_reading(rng, before + drift));
        let zero = find_zero(first, Some(last)).unwrap();
        let certificate = 1.0 + 0.002 * normal(rng);
        // The gain is found at the middle of the drift, the pressure is asked at any moment.
        let points: Vec<SpanPoint> = [5.0e6, 1.0e7, 1.5e7, 2.0e7]
            .iter()
            .map(|pressure| SpanPoint {
                reference_pa: pressure * certificate + 2.0e4 * normal(rng),
                u_reference_pa: 2.0e4,
                indicated_pa: before + 0.5 * drift + pressure / gain + 5.0e3 * normal(rng),
                u_indicated_pa: 5.0e3,
            })
            .collect();
        let found = fit_span(zero, &points, 0.002, 2.5e7).unwrap();
        let truth = 1.2e7;
        let indicated = before + moment * drift + truth / gain;
        found
            .correct(indicated)
            .unwrap()
            .interval_95()
            .contains(truth)
    });
    println!("corrected pressure: {share}");
    assert!((0.935..=0.995).contains(&share), "{share}");
}
