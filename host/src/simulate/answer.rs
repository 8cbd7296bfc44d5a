//! The truth of a performance: curves, thresholds, supply, bursts and notes without any sensor.

use crate::units::{CubicMetrePerSecond, PA_PER_BAR};

use super::battery::BatteryState;
use super::fan::{clear_point, run_point};
use super::fluid_path::FluidPath;
use super::index::real;
use super::notebook::WrittenNote;
use super::performance::{Performance, Pulled};
use super::rig::path_of;
use super::scenario::{Expected, Logging, PullKind, Scenario, Setting, TimeStyle};
use super::steady::{SupplyState, delivery_m3_per_s, settle};
use super::truth::{
    AdviceTruth, Asked, Errors, Grader, Hold, PlanAnswer, PlanQuestion, Refusal, Subject, Supply,
    Truth, TruthBurst, TruthGroup, TruthNote,
};

/// Points along the curve in a truth file.
const CURVE_POINTS: u32 = 16;

/// Points of the log-log fit over the pressures visited.
const FIT_POINTS: u32 = 33;

/// Points of the supply curve.
const SUPPLY_POINTS: u32 = 18;

fn bar(pascal: f64) -> f64 {
    pascal / PA_PER_BAR
}

fn l_min(flow_m3_per_s: f64) -> f64 {
    CubicMetrePerSecond(flow_m3_per_s).as_l_min()
}

/// The truths beside a recording of `performance`, whose notes are `notes` and which has `n_samples`
/// rows or pressure samples: one for the scenario's subject, then one for each other that it
/// expects something of. Never empty.
#[must_use]
pub fn answers(
    scenario: &Scenario,
    performance: &Performance,
    notes: &[WrittenNote],
    n_samples: usize,
) -> Vec<Truth> {
    let groups = groups_of(scenario, performance);
    let supply = supply_of(scenario, performance);
    let shared = Shared {
        bursts: performance
            .pulls
            .iter()
            .map(|pulled| burst_of(scenario, pulled))
            .collect(),
        notes: notes_of(scenario, notes),
        errors: errors_of(scenario, &groups, n_samples),
        groups,
        supply,
    };
    std::iter::once(&scenario.expected)
        .chain(&scenario.others)
        .map(|expected| answer(scenario, performance, expected, &shared))
        .collect()
}

/// What the truths of one recording have in common.
struct Shared {
    groups: Vec<TruthGroup>,
    supply: Supply,
    bursts: Vec<TruthBurst>,
    notes: Vec<TruthNote>,
    errors: Errors,
}

fn answer(
    scenario: &Scenario,
    performance: &Performance,
    expected: &Expected,
    shared: &Shared,
) -> Truth {
    let subject = subject_of(scenario, &expected.subject);
    let plan = plan_of(scenario, performance, expected);
    let question = plan.as_ref().map(|p| PlanQuestion {
        tip: p.tip.clone(),
        material: p.material.clone(),
        thinner_pct: p.thinner_pct,
        dial: p.dial.clone(),
    });
    let person = &scenario.person;
    Truth {
        schema: 1,
        case: scenario.name.clone(),
        family: expected.family.into(),
        subkind: expected.subkind.into(),
        label: expected.labels.first().copied().unwrap_or_default().into(),
        accept_labels: owned(&expected.labels),
        alignment: alignment_word(expected.is_alignment_clear).into(),
        refusal: Refusal {
            expected: expected.refusal.is_some(),
            reason: expected.refusal.unwrap_or_default().into(),
        },
        limit_kind: expected.limit_kind.into(),
        hold: hold_of(scenario, performance, expected),
        supply_max_dial: shared.supply.clone(),
        bursts: shared.bursts.clone(),
        notes: shared.notes.clone(),
        grader: Grader {
            style: style_word(person.style).into(),
            grader_spread: person.grader_spread,
            watch_offset_s: person.watch_offset_s,
        },
        errors: shared.errors.clone(),
        advice: AdviceTruth {
            allowed: owned(expected.advice.allowed),
            forbidden: owned(expected.advice.forbidden),
        },
        asked: Asked {
            subject: subject.clone(),
            plan: question,
        },
        groups: shared.groups.clone(),
        subject,
        plan,
    }
}

fn owned(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

const fn alignment_word(is_clear: bool) -> &'static str {
    if is_clear { "clear" } else { "ambiguous" }
}

const fn style_word(style: TimeStyle) -> &'static str {
    match style {
        TimeStyle::Seconds => "hms",
        TimeStyle::Minutes => "hm",
        TimeStyle::About => "about",
        TimeStyle::Rfc3339 => "rfc",
        TimeStyle::LoggerSeconds => "t+",
        TimeStyle::Empty => "empty",
        TimeStyle::Mixed => "mixed",
    }
}

fn percent(thinner_ratio: f64) -> f64 {
    (thinner_ratio * 1.0e4).round() / 1.0e2
}

fn subject_of(scenario: &Scenario, setting: &Setting) -> Subject {
    Subject {
        tip: scenario.tips[setting.tip].code.clone(),
        material: scenario.liquids[setting.liquid].name.clone(),
        thinner_pct: percent(setting.thinner_ratio),
    }
}

/// Sprays of one state each, in order of their first burst.
fn groups_of(scenario: &Scenario, performance: &Performance) -> Vec<TruthGroup> {
    let mut members: Vec<(&Pulled, Vec<usize>)> = Vec::new();
    for (index, pulled) in performance.pulls.iter().enumerate() {
        if pulled.kind != PullKind::Spray || !pulled.is_of_one_state() {
            continue;
        }
        let key = |p: &Pulled| (p.setting.tip, p.setting.liquid, p.phase);
        let known = members.iter_mut().find(|(first, _)| {
            key(first) == key(pulled) && first.setting.thinner_ratio == pulled.setting.thinner_ratio
        });
        match known {
            Some((_, indices)) => indices.push(index),
            None => members.push((pulled, vec![index])),
        }
    }
    members
        .into_iter()
        .map(|(first, indices)| group_of(scenario, performance, first, indices))
        .collect()
}

fn group_of(
    scenario: &Scenario,
    performance: &Performance,
    first: &Pulled,
    indices: Vec<usize>,
) -> TruthGroup {
    let tap = scenario.rig.tap;
    let tip = &scenario.tips[first.setting.tip];
    let pulls: Vec<&Pulled> = indices.iter().map(|i| &performance.pulls[*i]).collect();
    let material_k = pulls.iter().map(|p| p.material_k).sum::<f64>() / real(pulls.len());
    let liquid = &scenario.liquids[first.setting.liquid];
    // The state of the path is that of the group's last burst; its temperature the group's mean.
    let path = FluidPath {
        state: liquid.at(material_k, first.setting.thinner_ratio),
        ..pulls[pulls.len() - 1].path
    };
    let (low_pa, high_pa) = pulls
        .iter()
        .fold((f64::INFINITY, 0.0f64), |(low, high), p| {
            (low.min(p.tap_pa), high.max(p.tap_pa))
        });
    let flow = |pressure_pa: f64| path.at_tap(tap, pressure_pa).flow_m3_per_s;
    let p_ref_pa = (low_pa * high_pa).sqrt();
    let (q_ref, n) = fit_logs(
        low_pa.min(0.97 * p_ref_pa),
        high_pa.max(1.03 * p_ref_pa),
        &flow,
    );
    let curve = (0..CURVE_POINTS)
        .map(|i| {
            let (from, to) = ((low_pa / 1.5).ln(), (high_pa * 1.5).ln());
            let p = (from + (to - from) * f64::from(i) / f64::from(CURVE_POINTS - 1)).exp();
            (bar(p), l_min(flow(p)))
        })
        .collect();
    let subject = subject_of(scenario, &first.setting);
    TruthGroup {
        tip: subject.tip,
        material: subject.material,
        thinner_pct: subject.thinner_pct,
        phase: first.phase.into(),
        material_c: material_k - 273.15,
        pressure_at: "tap".into(),
        distinct_pressures: count_distinct(pulls.iter().map(|p| p.tap_pa).collect()),
        equivalent_orifice_mm: path.orifice.diameter_m * 1e3,
        nominal_orifice_mm: tip.stamped_thou * 0.0254,
        p_clear_bar: bar(clear_point(&path, tip.fan_width_m).tap_pa(tap)),
        p_run_bar: bar(run_point(&path, tip.fan_width_m, &scenario.pass).tap_pa(tap)),
        p_range_bar: (bar(low_pa), bar(high_pa)),
        p_ref_bar: bar(p_ref_pa),
        q_ref_l_min: l_min(q_ref),
        n,
        k: l_min(q_ref) * bar(p_ref_pa).powf(-n),
        curve,
        bursts: indices,
    }
}

/// Flow at the geometric mean and exponent of a straight line through the logarithms of a curve at even
/// steps of log pressure, by least squares.
fn fit_logs(low_pa: f64, high_pa: f64, flow: &impl Fn(f64) -> f64) -> (f64, f64) {
    let half = 0.5 * (high_pa / low_pa).ln();
    let middle = 0.5 * (high_pa * low_pa).ln();
    let (mut sum_y, mut sum_xy, mut sum_xx) = (0.0, 0.0, 0.0);
    for i in 0..FIT_POINTS {
        let x = half * (2.0 * f64::from(i) / f64::from(FIT_POINTS - 1) - 1.0);
        let y = flow((middle + x).exp()).ln();
        sum_y += y;
        sum_xy += x * y;
        sum_xx += x * x;
    }
    ((sum_y / f64::from(FIT_POINTS)).exp(), sum_xy / sum_xx)
}

/// Pressures further than 2.5 % from the one below.
fn count_distinct(mut pressures: Vec<f64>) -> usize {
    pressures.sort_by(f64::total_cmp);
    let steps = pressures.windows(2).filter(|w| w[1] > 1.025 * w[0]).count();
    if pressures.is_empty() { 0 } else { steps + 1 }
}

/// The subject at full dial with everything as at the start.
fn hold_of(scenario: &Scenario, performance: &Performance, expected: &Expected) -> Hold {
    let setting = &expected.subject;
    let material_k = performance
        .pulls
        .iter()
        .find(|p| p.setting.tip == setting.tip && p.setting.liquid == setting.liquid)
        .map_or(scenario.material_k, |p| p.material_k);
    let state = scenario.liquids[setting.liquid].at(material_k, setting.thinner_ratio);
    let orifice = scenario.tips[setting.tip].orifice;
    let path = path_of(&scenario.rig, &orifice, state, 1.0, 1.0);
    let point = settle(&scenario.rig, &SupplyState::full_dial(&scenario.rig), &path);
    Hold {
        dial: scenario.dial(scenario.rig.control.full_mark()).into(),
        pressure_tap_bar: bar(point.tap_pa(scenario.rig.tap)),
        flow_l_min: l_min(point.flow_m3_per_s),
        p_max_bar: bar(scenario.rig.control.full_set_pa),
    }
}

fn supply_of(scenario: &Scenario, performance: &Performance) -> Supply {
    let rig = &scenario.rig;
    let full_pa = rig.control.full_set_pa;
    let curve = |battery: BatteryState, inlet_openness: f64| {
        let supply = SupplyState {
            set_pa: full_pa,
            battery,
            inlet_openness,
        };
        (0..SUPPLY_POINTS)
            .map(|i| {
                let part = 0.15 + 0.85 * f64::from(i) / f64::from(SUPPLY_POINTS - 1);
                let flow = delivery_m3_per_s(rig, &supply, part * full_pa);
                (bar(part * full_pa), l_min(flow))
            })
            .collect()
    };
    Supply {
        start: curve(rig.battery_at_start(), 1.0),
        end: curve(
            performance.battery_at_end,
            performance.inlet_openness_at_end,
        ),
        pressure_at: "pump".into(),
    }
}

fn burst_of(scenario: &Scenario, pulled: &Pulled) -> TruthBurst {
    let subject = subject_of(scenario, &pulled.setting);
    TruthBurst {
        start_s: scenario.logger_time_s(pulled.start_s),
        end_s: scenario.logger_time_s(pulled.end_s),
        steady_from_s: scenario.logger_time_s(pulled.steady_from_s),
        kind: pulled.kind.word().into(),
        tip: subject.tip,
        material: subject.material,
        thinner_pct: subject.thinner_pct,
        material_c: pulled.material_k - 273.15,
        dial: scenario.dial(pulled.setting.mark).into(),
        pressure_tap_bar: bar(pulled.tap_pa),
        pressure_pump_bar: bar(pulled.pump_pa),
        flow_l_min: l_min(pulled.flow_m3_per_s),
        phase: pulled.phase.into(),
    }
}

fn notes_of(scenario: &Scenario, notes: &[WrittenNote]) -> Vec<TruthNote> {
    notes
        .iter()
        .enumerate()
        .map(|(row, written)| TruthNote {
            row,
            burst: written.burst,
            scored: written.burst.is_some() && scenario.expected.is_alignment_clear,
            time_s: scenario.logger_time_s(written.written_s),
            event: written.note.event.clone().unwrap_or_default(),
        })
        .collect()
}

/// The asked tip at full dial, everything else as the subject.
fn plan_of(
    scenario: &Scenario,
    performance: &Performance,
    expected: &Expected,
) -> Option<PlanAnswer> {
    let tip = expected.asked_tip.as_ref()?;
    let rig = &scenario.rig;
    let setting = &expected.subject;
    let pulls = &performance.pulls;
    let material_k = pulls.iter().map(|p| p.material_k).sum::<f64>() / real(pulls.len().max(1));
    let state = scenario.liquids[setting.liquid].at(material_k, setting.thinner_ratio);
    let path = path_of(rig, &tip.orifice, state, 1.0, 1.0);
    let point = settle(rig, &SupplyState::full_dial(rig), &path);
    let subject = subject_of(scenario, setting);
    Some(PlanAnswer {
        tip: tip.code.clone(),
        material: subject.material,
        thinner_pct: subject.thinner_pct,
        dial: scenario.dial(rig.control.full_mark()).into(),
        pressure_bar: bar(point.tap_pa(rig.tap)),
        flow_l_min: l_min(point.flow_m3_per_s),
    })
}

fn errors_of(scenario: &Scenario, groups: &[TruthGroup], n_samples: usize) -> Errors {
    let transducer = &scenario.instruments.transducer;
    let meter = &scenario.instruments.meter;
    let (rate_hz, missing) = match &scenario.logging {
        Logging::Device { sample_rate_hz } => (f64::from(*sample_rate_hz), 0.0),
        Logging::Rows(form) => (form.rate_hz, form.missing_ratio),
    };
    Errors {
        zero_bar: bar(transducer.zero_pa),
        span: transducer.span_error_ratio,
        noise_bar: bar(transducer.noise_pa),
        bits: transducer.bits,
        meter_bias: meter.k_error_ratio,
        slip: meter.slip_m3_per_s * 1e6,
        missing,
        bounce: meter.bounce_ratio,
        slip_mid_ml_s: groups.first().map_or(0.0, |g| g.q_ref_l_min / 0.06),
        clock_ppm: scenario.instruments.clock_ppm,
        rate_hz,
        rows: n_samples,
    }
}
