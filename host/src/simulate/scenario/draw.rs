//! Drawing what a trial is made of: coating, tip, rig, instruments, person.
//!
//! Ranges are those of the trade (common practice, no source); within them everything varies, so that no
//! rule can be fitted to one rig.

use crate::recording::settings::Tap;

use super::super::fan::Pass;
use super::super::liquid::Liquid;
use super::super::meter::FlowMeter;
use super::super::pump::Motion;
use super::super::random::RandomStream;
use super::super::rows::{RowFlow, RowForm};
use super::super::transducer::{PressureFault, Transducer};
use super::size::Wanted;
use super::{Instruments, Person, Start, TimeStyle, TipPiece};

/// Names of coatings, all invented.
const COATINGS: [&str; 6] = [
    "bench white",
    "trim gloss",
    "deck grey",
    "shed red",
    "sill varnish",
    "panel primer",
];

/// Tips of the box: fan digit, orifice in thousandths of an inch, family.
const TIPS: [(u32, u32, &str); 22] = [
    (2, 6, "fine"),
    (3, 6, "fine"),
    (2, 7, "fine"),
    (3, 7, "fine"),
    (2, 8, "fine"),
    (4, 8, "fine"),
    (3, 10, "fine"),
    (4, 10, "fine"),
    (4, 11, "standard"),
    (5, 11, "standard"),
    (3, 13, "standard"),
    (4, 13, "standard"),
    (5, 13, "standard"),
    (4, 15, "standard"),
    (5, 15, "standard"),
    (4, 17, "standard"),
    (5, 17, "standard"),
    (5, 19, "standard"),
    (4, 21, "standard"),
    (6, 21, "standard"),
    (5, 23, "standard"),
    (6, 25, "standard"),
];

/// What people write besides.
const REMARKS: [&str; 5] = [
    "second panel, left to right",
    "held a hand's breadth closer",
    "hose moved to the other side",
    "sun on the panel now",
    "looks like the one before, more or less",
];

/// A coating. Tails and runs are not set yet: see [`super::size`].
pub fn draw_liquid(random: &mut RandomStream) -> Liquid {
    let high_shear_viscosity_pa_s = random.log_uniform(0.012, 0.075);
    let at_100_pa_s = random
        .log_uniform(0.15, 1.3)
        .max(4.0 * high_shear_viscosity_pa_s);
    let rest_viscosity_pa_s = at_100_pa_s * random.uniform(2.0, 6.0);
    let cross_exponent = random.uniform(0.62, 0.85);
    // Such that the viscosity at 100 1/s is the drawn one.
    let span = (rest_viscosity_pa_s - high_shear_viscosity_pa_s)
        / (at_100_pa_s - high_shear_viscosity_pa_s);
    let cross_time_s = (span - 1.0).powf(1.0 / cross_exponent) / 100.0;
    let vogel_offset_k = random.pick(&[0.0, 60.0, 100.0, 130.0]);
    let per_ten_kelvin: f64 = random.uniform(1.25, 1.65);
    let vogel_k =
        per_ten_kelvin.ln() / (1.0 / (283.15 - vogel_offset_k) - 1.0 / (293.15 - vogel_offset_k));
    Liquid {
        name: random.pick(&COATINGS).into(),
        density_kg_per_m3: random.uniform(1050.0, 1450.0).round(),
        volume_solids_ratio: (random.uniform(0.25, 0.5) * 100.0).round() / 100.0,
        max_thinner_ratio: random.pick(&[0.05, 0.05, 0.10, 0.15]),
        thinner_density_kg_per_m3: random.pick(&[790.0, 870.0, 998.0]),
        rest_viscosity_pa_s,
        high_shear_viscosity_pa_s,
        cross_time_s,
        cross_exponent,
        vogel_k,
        vogel_offset_k,
        thinning_sensitivity: random.uniform(4.0, 8.0),
        surface_tension_n_per_m: random.uniform(0.026, 0.036),
        yield_stress_pa: 1.0,
        tail_number: 1.0,
    }
}

/// A tip in good order.
pub fn draw_tip(random: &mut RandomStream) -> TipPiece {
    let place = random.whole(0, TIPS.len() - 1);
    tip_at(place, random)
}

/// A tip of the box by its place, its opening off by a few parts in a hundred of area.
fn tip_at(place: usize, random: &mut RandomStream) -> TipPiece {
    let (fan, thou, family) = TIPS[place.min(TIPS.len() - 1)];
    let area_error = random.normal(0.018).clamp(-0.04, 0.04);
    let land_ratio = random.uniform(1.8, 3.2);
    let edge_factor = random.uniform(0.86, 0.99);
    TipPiece {
        used_h: (random.uniform(0.5, 18.0) * 10.0).round() / 10.0,
        ..TipPiece::of_code(fan, thou, family, area_error, land_ratio, edge_factor)
    }
}

/// `count` tips of different orifices whose neighbours in the box lie close, in random order.
///
/// They are of one make: land and edge alike, openings each off on their own.
pub fn draw_box(count: usize, random: &mut RandomStream) -> Vec<TipPiece> {
    let first = random.whole(0, TIPS.len() - 1 - 2 * count);
    let (land_ratio, edge_factor) = (random.uniform(1.8, 3.2), random.uniform(0.86, 0.99));
    let mut tips: Vec<TipPiece> = Vec::new();
    let mut place = first;
    while tips.len() < count && place < TIPS.len() {
        let mut tip = tip_at(place, random);
        tip.orifice.land_ratio = land_ratio;
        tip.orifice.edge_factor = edge_factor;
        let is_new = tips
            .last()
            .is_none_or(|t| t.stamped_thou != tip.stamped_thou);
        if is_new {
            tips.push(tip);
        }
        place += 1;
    }
    random.shuffle(&mut tips);
    tips
}

/// Marks of a dial with so many positions.
pub fn draw_marks(count: usize, random: &mut RandomStream) -> Vec<(String, f64)> {
    let lowest = random.uniform(0.34, 0.46);
    let part = |i: usize| {
        let step = super::super::index::real(i) / super::super::index::real(count - 1);
        lowest + (1.0 - lowest) * step.powf(1.1)
    };
    if count == 5 && random.chance(0.5) {
        let words = ["low", "medium low", "medium", "high", "max"];
        return words
            .iter()
            .enumerate()
            .map(|(i, w)| ((*w).into(), part(i)))
            .collect();
    }
    (0..count)
        .map(|i| {
            let number = (part(i) * 10.0).round().min(10.0);
            (format!("{number:.0}"), part(i))
        })
        .collect()
}

/// A rig for a flow at a full set pressure; reserve, ripple and power are the caller's to change.
pub fn draw_wanted(
    full_set_pa: f64,
    flow_m3_per_s: f64,
    marks: Vec<(String, f64)>,
    random: &mut RandomStream,
) -> Wanted {
    let is_small = flow_m3_per_s < 5.0e-6;
    let stroke_rate_hz = random.log_uniform(3.0, 14.0);
    // A hose that smooths better than this takes seconds to settle, longer than a pull lasts.
    let least_ripple = 0.22 / stroke_rate_hz;
    Wanted {
        name: if random.chance(0.5) {
            "bench pump"
        } else {
            "site pump"
        }
        .into(),
        tap: if random.chance(0.6) {
            Tap::PumpOutlet
        } else {
            Tap::GunInlet
        },
        hose_m: (
            (random.uniform(1.5, 12.0) * 10.0).round() / 10.0,
            if is_small { 4.8e-3 } else { 6.4e-3 },
        ),
        marks,
        full_set_pa,
        flow_m3_per_s,
        stroke_rate_hz,
        reserve: random.uniform(1.5, 3.2),
        ripple_ratio: random.log_uniform(least_ripple, least_ripple.max(0.13)),
        motion: random.pick(&[Motion::Crank, Motion::Constant]),
        cells: None,
    }
}

/// Instruments for a rig's pressure and a tip's middle flow.
pub fn draw_instruments(
    full_set_pa: f64,
    middle_flow_m3_per_s: f64,
    random: &mut RandomStream,
) -> Instruments {
    let scales = [1.0e7, 1.6e7, 2.5e7, 4.0e7];
    let full_scale_pa = scales
        .into_iter()
        .find(|s| *s > 1.08 * full_set_pa)
        .unwrap_or(6.0e7);
    let stated_accuracy_ratio = random.pick(&[0.0025, 0.005, 0.005, 0.01]);
    let u_ratio = 0.5 * stated_accuracy_ratio;
    let stated_u_ratio = random.pick(&[0.005, 0.01, 0.01, 0.015, 0.02]);
    let rate_hz = random.log_uniform(4.0, 110.0);
    let k_per_m3 = (rate_hz / middle_flow_m3_per_s).clamp(1.0e6, 5.5e6);
    Instruments {
        transducer: Transducer {
            full_scale_pa,
            stated_accuracy_ratio,
            zero_pa: random.normal(u_ratio * full_scale_pa),
            zero_drift_pa_per_s: random.normal(2.0e-6 * full_scale_pa),
            span_error_ratio: random.normal(u_ratio),
            noise_pa: full_scale_pa * random.log_uniform(2.0e-4, 1.6e-3),
            bits: u32::try_from(random.whole(12, 16)).unwrap_or(12),
            fault: PressureFault::None,
        },
        meter: FlowMeter {
            nominal_k_per_m3: (k_per_m3 * 1e-3).round() * 1e3,
            stated_u_ratio,
            k_error_ratio: random.normal(stated_u_ratio),
            slip_m3_per_s: middle_flow_m3_per_s * stated_u_ratio * random.uniform(0.0, 0.35),
            teeth: random.pick(&[8, 10, 12, 16]),
            tooth_swing_ratio: random.uniform(0.0, 0.02),
            bounce_ratio: if random.chance(0.15) {
                random.uniform(0.002, 0.012)
            } else {
                0.0
            },
        },
        temperature_error_k: random.normal(0.25),
        clock_ppm: random.uniform(-100.0, 100.0),
    }
}

/// How the hand moves.
pub fn draw_pass(random: &mut RandomStream) -> Pass {
    Pass {
        speed_m_per_s: random.uniform(0.3, 0.8),
        transfer_ratio: random.uniform(0.6, 0.85),
        overlap_ratio: random.uniform(0.3, 0.5),
    }
}

/// A person who writes so that notes can be lined up.
pub fn draw_person(random: &mut RandomStream) -> Person {
    let style = random.pick(&[
        TimeStyle::Seconds,
        TimeStyle::Seconds,
        TimeStyle::Minutes,
        TimeStyle::Minutes,
        TimeStyle::About,
        TimeStyle::Rfc3339,
        TimeStyle::LoggerSeconds,
        TimeStyle::LoggerSeconds,
        TimeStyle::Mixed,
    ]);
    Person {
        style,
        watch_offset_s: match style {
            TimeStyle::LoggerSeconds => 0.0,
            _ => random.normal(2.5),
        },
        delay_s: (0.4, 4.5),
        grader_spread: random.uniform(0.03, 0.075),
        film_spread: random.uniform(0.02, 0.05),
        comb_ratio: random.uniform(0.0, 0.45),
        catch_ratio: if random.chance(0.15) { 0.25 } else { 0.0 },
        remarks: &REMARKS,
        blank_ratio: random.uniform(0.0, 0.15),
        late_ratio: if random.chance(0.2) { 0.2 } else { 0.0 },
        repeats_setting: random.chance(0.5),
        writes_dial: true,
        strained: random.chance(0.7),
    }
}

/// How a data-acquisition box logs.
pub fn draw_rows(random: &mut RandomStream) -> RowForm {
    let rate_hz = random.pick(&[50.0, 50.0, 100.0, 100.0, 200.0, 250.0]);
    RowForm {
        rate_hz,
        idle_rate_hz: if rate_hz >= 200.0 { 10.0 } else { rate_hz },
        jitter_s: if random.chance(0.6) {
            0.05 / rate_hz
        } else {
            0.0
        },
        flow: if random.chance(0.15) {
            RowFlow::Windowed(0.25)
        } else {
            RowFlow::Pulses
        },
        has_pulse_time: random.chance(0.2),
        missing_ratio: if random.chance(0.12) {
            random.uniform(0.004, 0.015)
        } else {
            0.0
        },
        keeps_missed_pulses: random.chance(0.5),
        rows_per_slow: super::super::index::position(rate_hz * random.uniform(0.5, 3.0)),
        has_supply: random.chance(0.6),
        has_material: random.chance(0.7),
        has_air: random.chance(0.4),
    }
}

/// A morning or an afternoon of 2026.
pub fn draw_start(random: &mut RandomStream) -> Start {
    let day = super::super::index::real(random.whole(0, 360));
    let offset_h = random.pick(&[-5.0, 0.0, 0.0, 1.0, 2.0]);
    Start {
        // 2026-01-01T00:00:00Z, from memory.
        unix_s: 1_767_225_600.0 + day * 86_400.0 + (random.uniform(8.0, 17.0) * 3600.0).floor()
            - offset_h * 3600.0,
        utc_offset_s: offset_h * 3600.0,
        is_told: true,
    }
}
