//! How often do 95 % intervals hold the truth? Bursts of a known rig through steady means, curve,
//! crossing and tail threshold.
//!
//! What is asked: `q_ref`, `n`, the crossing with a power-limited supply known to 2 %, and the lowest
//! tail-free pressure, each against the truth that made the recording. A recording whose curve is refused
//! or whose grades lie on one side gives no interval and is counted apart.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tipcurve::analysis::burst::Burst;
use tipcurve::analysis::nozzle_curve::{
    CommonUncertainty, CurveConditions, CurvePoint, NozzleCurve, fit_nozzle_curve,
};
use tipcurve::analysis::steady::measure_burst;
use tipcurve::analysis::supply_curve::{SupplyCurve, SupplyForm, cross_curve};
use tipcurve::analysis::tail_threshold::{Grade, TailThreshold, find_tail_threshold};
use tipcurve::estimate::Estimate;

use crate::rig::{
    SETTINGS, Setting, Truth, control_pressures, grade_tails, normal, record_burst, sensor,
};

/// Points of a group.
pub(crate) const SIZES: [usize; 5] = [3, 4, 6, 8, 12];

/// Intervals asked for, in the order of [`Counts`].
pub(crate) const QUANTITIES: [&str; 4] = ["q_ref", "n", "crossing", "tail-free"];

/// Relative standard uncertainty of the supply's power, and its degrees of freedom.
const U_POWER_RATIO: f64 = 0.02;
const POWER_DOF: f64 = 6.0;

/// One interval's tally.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Tally {
    pub(crate) held: usize,
    pub(crate) asked: usize,
    /// Sum of half widths, relative to the truth (absolute for `n`).
    pub(crate) half_widths: f64,
}

impl Tally {
    fn add(&mut self, holds: bool, half_width: f64) {
        self.held += usize::from(holds);
        self.asked += 1;
        self.half_widths += half_width;
    }

    pub(crate) fn coverage(&self) -> f64 {
        self.held as f64 / self.asked.max(1) as f64
    }

    pub(crate) fn mean_half_width(&self) -> f64 {
        self.half_widths / self.asked.max(1) as f64
    }
}

/// Tallies of one setting and size.
pub(crate) type Counts = [Tally; 4];

/// Run `repeats` recordings of `n_points` bursts each.
pub(crate) fn run(setting: &Setting, n_points: usize, repeats: usize, seed: u64) -> Counts {
    let mut counts = Counts::default();
    for repeat in 0..repeats {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        // Every cell of the table and every recording in it has a stream of its own.
        let cell = SETTINGS.iter().position(|s| s == setting).unwrap_or(0) * 100 + n_points;
        rng.set_stream((cell as u64) << 32 | repeat as u64);
        one(setting, n_points, &mut rng, &mut counts);
    }
    counts
}

fn one(setting: &Setting, n_points: usize, rng: &mut ChaCha8Rng, counts: &mut Counts) {
    let truth = Truth::draw(setting, rng);
    let pressures = control_pressures(n_points, rng);
    let points: Vec<CurvePoint> = pressures
        .iter()
        .enumerate()
        .map(|(i, p)| measure(setting, &truth, i, *p, rng))
        .collect();
    let sensor = sensor();
    let common = CommonUncertainty {
        u_pressure_zero_pa: sensor.u_zero_pa,
        u_pressure_span_ratio: sensor.u_span_ratio,
        u_flow_ratio: setting.u_meter_ratio,
        ..CommonUncertainty::default()
    };
    if let Ok(curve) = fit_nozzle_curve(&points, &common, &CurveConditions::default()) {
        ask_curve(&curve, &truth, counts);
        ask_crossing(&curve, &truth, &pressures, &common, rng, &mut counts[2]);
    }
    ask_tails(&points, &pressures, rng, &mut counts[3]);
}

fn measure(
    setting: &Setting,
    truth: &Truth,
    burst_index: usize,
    mean_pa: f64,
    rng: &mut ChaCha8Rng,
) -> CurvePoint {
    let (signal, end_s) = record_burst(setting, truth, mean_pa, rng);
    let burst = Burst {
        start_s: 0.0,
        end_s,
        u_time_s: 0.01,
    };
    let steady = measure_burst(&signal, &burst, 0.0);
    CurvePoint {
        burst_index,
        pressure_pa: steady
            .pressure_pa
            .expect("a burst of seconds has a mean pressure"),
        flow_m3_per_s: steady.flow_m3_per_s.expect("a burst of seconds has edges"),
    }
}

fn ask_curve(curve: &NozzleCurve, truth: &Truth, counts: &mut Counts) {
    let law = &curve.power_law;
    let q = truth.flow_m3_per_s(law.p_ref_pa);
    let interval = law.q_ref_m3_per_s.interval_95();
    counts[0].add(interval.contains(q), law.q_ref_m3_per_s.expanded_95() / q);
    counts[1].add(law.n.interval_95().contains(truth.n), law.n.expanded_95());
}

/// A pump whose power holds a pressure inside the range; its power was found to 2 % from other bursts of
/// the same recording, so it carries the recording's own meter and sensor errors.
fn ask_crossing(
    curve: &NozzleCurve,
    truth: &Truth,
    pressures: &[f64],
    common: &CommonUncertainty,
    rng: &mut ChaCha8Rng,
    tally: &mut Tally,
) {
    let highest_pa = pressures.iter().copied().fold(0.0, f64::max);
    let held_pa = highest_pa * rng.random_range(0.7..1.0);
    let read_pa = held_pa * truth.span + truth.zero_pa;
    let read_w = read_pa * truth.flow_m3_per_s(held_pa) / truth.meter;
    // An honest standard uncertainty is itself an estimate: chi-square over its freedom.
    let chi: f64 = (0..6).map(|_| normal(rng).powi(2)).sum();
    let power_w = Estimate::new(
        read_w * (1.0 + U_POWER_RATIO * normal(rng)),
        read_w * U_POWER_RATIO * (chi / POWER_DOF).sqrt(),
        0.0,
    )
    .with_dof(POWER_DOF);
    let supply = SupplyCurve {
        dial: "full".into(),
        is_full: true,
        points: Vec::new(),
        form: SupplyForm::Shaped {
            p_max_pa: Estimate::exact(1.5 * highest_pa),
            power_w: Some(power_w),
            q_max_m3_per_s: None,
            power_per_v_ratio: None,
        },
    };
    if let Some(crossing) = cross_curve(curve, &supply, common) {
        let half = 0.5 * (crossing.interval_95_pa.high - crossing.interval_95_pa.low);
        tally.add(crossing.interval_95_pa.contains(held_pa), half / held_pa);
    }
}

/// The threshold lies anywhere in the tried range or up to a quarter beyond it; the grader is careful or hasty.
fn ask_tails(points: &[CurvePoint], pressures: &[f64], rng: &mut ChaCha8Rng, tally: &mut Tally) {
    let lowest_pa = pressures.iter().copied().fold(f64::INFINITY, f64::min);
    let highest_pa = pressures.iter().copied().fold(0.0, f64::max);
    let (from_pa, to_pa) = (lowest_pa / 1.25, 1.25 * highest_pa);
    let clear_pa = from_pa * (to_pa / from_pa).powf(rng.random_range(0.0..1.0));
    let spread = 0.03 * (0.08f64 / 0.03).powf(rng.random_range(0.0..1.0));
    let grades: Vec<Grade> = points
        .iter()
        .zip(pressures)
        .map(|(point, &true_pa)| Grade {
            burst_index: point.burst_index,
            pressure_pa: point.pressure_pa.value,
            tails: grade_tails(true_pa, clear_pa, spread, rng),
        })
        .collect();
    if let TailThreshold::Between { interval_95_pa, .. } = find_tail_threshold(&grades) {
        let half = 0.5 * (interval_95_pa.high - interval_95_pa.low);
        tally.add(interval_95_pa.contains(clear_pa), half / clear_pa);
    }
}
