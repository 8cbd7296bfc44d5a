//! A rig that knows its own truth: pressure with stroke ripple, flow as pulse edges, sensors with
//! errors, and a person who grades tails.
//!
//! It shares no formula with the analysis: pressures are made sample by sample, flow follows each
//! instant's pressure, edges come from the integral of flow. Invented numbers throughout.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, Normal, StandardNormal};
use tipcurve::analysis::signal::{FlowMeter, FlowSignal, PressureSensor, Signal};

/// How strong the ripple is and how good the meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Setting {
    pub(crate) name: &'static str,
    /// Peak-to-peak ripple over mean pressure.
    pub(crate) ripple_ratio: f64,
    pub(crate) pulses_per_l: f64,
    pub(crate) u_meter_ratio: f64,
}

/// Ripple strong and weak, meter good and poor.
pub(crate) const SETTINGS: [Setting; 4] = [
    Setting {
        name: "weak ripple, good meter",
        ripple_ratio: 0.03,
        pulses_per_l: 3000.0,
        u_meter_ratio: 0.005,
    },
    Setting {
        name: "weak ripple, poor meter",
        ripple_ratio: 0.03,
        pulses_per_l: 800.0,
        u_meter_ratio: 0.03,
    },
    Setting {
        name: "strong ripple, good meter",
        ripple_ratio: 0.3,
        pulses_per_l: 3000.0,
        u_meter_ratio: 0.005,
    },
    Setting {
        name: "strong ripple, poor meter",
        ripple_ratio: 0.3,
        pulses_per_l: 800.0,
        u_meter_ratio: 0.03,
    },
];

/// Relative standard deviation of flow between bursts that nothing measures (coating temperature, gun).
const BETWEEN_BURSTS_RATIO: f64 = 0.002;
/// Relative standard deviation of the pressure that the control comes back to.
const CONTROL_RATIO: f64 = 0.008;
/// Full scale of the pressure sensor; zero and span each have two standard deviations at 0.5 % of it.
const FULL_SCALE_PA: f64 = 250e5;
const U_ZERO_PA: f64 = 0.0025 * FULL_SCALE_PA;
const U_SPAN_RATIO: f64 = 0.0025;
const SAMPLE_RATE_HZ: f64 = 100.0;
const NOISE_PA: f64 = 0.3e5;

/// One recording's truth.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Truth {
    /// Flow at 100 bar.
    pub(crate) q_100_m3_per_s: f64,
    pub(crate) n: f64,
    pub(crate) zero_pa: f64,
    pub(crate) span: f64,
    pub(crate) meter: f64,
}

impl Truth {
    pub(crate) fn draw(setting: &Setting, rng: &mut impl Rng) -> Self {
        Self {
            q_100_m3_per_s: rng.random_range(1.0e-5..2.5e-5),
            n: rng.random_range(0.5..0.68),
            zero_pa: U_ZERO_PA * normal(rng),
            span: 1.0 + U_SPAN_RATIO * normal(rng),
            meter: 1.0 + setting.u_meter_ratio * normal(rng),
        }
    }

    pub(crate) fn flow_m3_per_s(&self, pressure_pa: f64) -> f64 {
        self.q_100_m3_per_s * (pressure_pa / 100e5).powf(self.n)
    }
}

pub(crate) fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Standard uncertainties of zero and span, as a data sheet would say.
pub(crate) fn sensor() -> PressureSensor {
    PressureSensor {
        full_scale_pa: Some(FULL_SCALE_PA),
        u_zero_pa: U_ZERO_PA,
        u_span_ratio: U_SPAN_RATIO,
        resolution_pa: None,
    }
}

/// True mean pressures of `n` bursts over a ratio of 2.6: three control positions at three bursts, six from
/// six on, then repeats.
pub(crate) fn control_pressures(n: usize, rng: &mut impl Rng) -> Vec<f64> {
    let n_positions = n.clamp(3, 6);
    let lowest_pa = rng.random_range(45e5..70e5);
    (0..n)
        .map(|i| {
            let share = (i % n_positions) as f64 / (n_positions - 1) as f64;
            lowest_pa * 2.6f64.powf(share) * (1.0 + CONTROL_RATIO * normal(rng))
        })
        .collect()
}

/// One burst's recording, from the moment the trigger opens; ends where the burst ends. With its length.
pub(crate) fn record_burst(
    setting: &Setting,
    truth: &Truth,
    mean_pa: f64,
    rng: &mut impl Rng,
) -> (Signal, f64) {
    let duration_s = rng.random_range(3.5..8.0);
    let stroke_hz = rng.random_range(1.5..4.0);
    let mut phase = rng.random_range(0.0..1.0);
    let between = 1.0 + BETWEEN_BURSTS_RATIO * normal(rng);
    let wander = Normal::new(0.0, 0.02).expect("a finite deviation");
    let volume_m3 = 1e-3 / setting.pulses_per_l * truth.meter;
    let mut passed_m3 = rng.random_range(0.0..volume_m3);
    let (mut t_s, mut pressure_pa, mut edges) = (Vec::new(), Vec::new(), Vec::new());
    // Ten steps of the rig between two samples.
    let step_s = 0.1 / SAMPLE_RATE_HZ;
    for i in 0u32.. {
        let now_s = f64::from(i) * step_s;
        if now_s > duration_s {
            break;
        }
        // Strokes are not all of one length.
        phase += step_s * stroke_hz * (1.0 + wander.sample(rng));
        let opening = 1.0 + 0.3 * (-now_s / 0.08).exp();
        let p_pa = mean_pa * opening * (1.0 + setting.ripple_ratio * saw(phase));
        let flow = between * truth.flow_m3_per_s(p_pa);
        let before_m3 = passed_m3;
        passed_m3 += flow * step_s;
        if passed_m3 >= volume_m3 {
            let share = (volume_m3 - before_m3) / (passed_m3 - before_m3);
            edges.push(now_s + share * step_s);
            passed_m3 -= volume_m3;
        }
        if i % 10 == 0 {
            t_s.push(now_s);
            let read = p_pa * truth.span + truth.zero_pa + NOISE_PA * normal(rng);
            pressure_pa.push(read);
        }
    }
    let u_t_s = vec![1e-6; edges.len()];
    let signal = Signal {
        t_s,
        pressure_pa,
        flow: FlowSignal::Edges { t_s: edges, u_t_s },
        pressure_sensor: sensor(),
        flow_meter: FlowMeter {
            pulse_volume_m3: 1e-3 / setting.pulses_per_l,
            u_pulse_volume_ratio: setting.u_meter_ratio,
            is_nominal: false,
            lowest_calibrated_hz: None,
        },
        ..Signal::default()
    };
    (signal, duration_s)
}

/// A stroke: slow rise, quick drop at the changeover; mean zero, peak to peak one.
fn saw(phase: f64) -> f64 {
    let within = phase.fract();
    if within < 0.85 {
        within / 0.85 - 0.5
    } else {
        0.5 - (within - 0.85) / 0.15
    }
}

/// A person's grade of the tails at a pressure: each look has its own error.
pub(crate) fn grade_tails(pressure_pa: f64, clear_pa: f64, spread: f64, rng: &mut impl Rng) -> u8 {
    let seen = (pressure_pa / clear_pa).ln() + spread * normal(rng);
    match seen {
        s if s >= 0.0 => 0,
        s if s >= -0.12 => 1,
        s if s >= -0.35 => 2,
        _ => 3,
    }
}
