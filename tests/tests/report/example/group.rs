//! A group of the examples: its bursts, curve, crossing and window.

use tipcurve::analysis::align::NoteMatch;
use tipcurve::analysis::burst::Burst;
use tipcurve::analysis::group::{Group, Setting};
use tipcurve::analysis::nozzle_curve::{
    CurveForm, CurvePoint, LackOfFit, NozzleCurve, PowerLaw, TwoTerm,
};
use tipcurve::analysis::steady::SteadyMeasurement;
use tipcurve::analysis::supply_curve::{Crossing, SupplyRegime};
use tipcurve::analysis::tail_threshold::{Grade, TailThreshold};
use tipcurve::analysis::window::{UpperLimit, Window};
use tipcurve::estimate::{Estimate, Interval};
use tipcurve::findings::{BurstFinding, Findings, GroupFinding};
use tipcurve::recording::notes::{Note, NoteTime};

use super::{BAR, HOSTILE, L_MIN, tip};

/// Adds a group with a burst at each pressure, its curve, grades and window, and readings for the trace.
pub(super) fn add_group(f: &mut Findings, tip_code: &str, q_100_l_min: f64, pressures_bar: &[f64]) {
    let group_index = f.groups.len();
    let mut points = Vec::new();
    let mut burst_indices = Vec::new();
    for (i, bar) in pressures_bar.iter().enumerate() {
        let burst_index = f.bursts.len();
        let flow = q_100_l_min * (bar / 100.0f64).powf(0.55) * L_MIN;
        let pressure_pa = Estimate::new(bar * BAR, 0.25 * BAR, 0.6 * BAR).with_dof(9.0);
        let flow_m3_per_s = Estimate::new(flow, 0.006 * flow, 0.01 * flow).with_dof(14.0);
        points.push(CurvePoint {
            burst_index,
            pressure_pa,
            flow_m3_per_s,
        });
        burst_indices.push(burst_index);
        add_burst(f, group_index, tip_code, i, pressure_pa, flow_m3_per_s);
    }
    let (low, high) = (
        pressures_bar[0] * BAR,
        pressures_bar[pressures_bar.len() - 1] * BAR,
    );
    let threshold_pa = 0.5 * (low + high);
    let grades: Vec<Grade> = points
        .iter()
        .map(|p| Grade {
            burst_index: p.burst_index,
            pressure_pa: p.pressure_pa.value,
            tails: if p.pressure_pa.value < threshold_pa {
                2
            } else {
                0
            },
        })
        .collect();
    for grade in &grades {
        f.bursts[grade.burst_index].tails = Some(grade.tails);
    }
    f.groups.push(GroupFinding {
        group: Group {
            flow_step_ratio: None,
            tip: tip_code.to_owned(),
            tip_family: None,
            material: "hull primer".to_owned(),
            thinner_ratio: 0.03,
            material_k: Some(291.4),
            phase: 0,
            burst_indices,
        },
        tip: Some(tip("415")),
        curve: Ok(curve(points, q_100_l_min, low, high)),
        grades,
        tail_threshold: TailThreshold::Between {
            estimate_pa: threshold_pa,
            u_pa: 2.0 * BAR,
            interval_95_pa: Interval {
                low: threshold_pa - 4.4 * BAR,
                high: threshold_pa + 5.1 * BAR,
            },
            highest_with_tails_pa: threshold_pa - 6.0 * BAR,
            lowest_without_pa: threshold_pa + 7.0 * BAR,
            overlap: false,
        },
        crossing: Some(crossing(high, q_100_l_min)),
        window: Some(window(threshold_pa, high)),
        equivalent_orifice_m: Some(Estimate::new(0.39e-3, 0.002e-3, 0.018e-3)),
        orifice_ratio: Some(Estimate::new(1.03, 0.006, 0.045)),
        baseline_group: None,
        flow_ratio_to_baseline: None,
        flow_ratio_by_temperature: None,
    });
}

fn curve(points: Vec<CurvePoint>, q_100_l_min: f64, low: f64, high: f64) -> NozzleCurve {
    let p_ref_pa = (low * high).sqrt();
    let q_ref = q_100_l_min * (p_ref_pa / (100.0 * BAR)).powf(0.55) * L_MIN;
    NozzleCurve {
        distinct_pa: points.iter().map(|p| p.pressure_pa.value).collect(),
        outliers: points.iter().take(1).copied().collect(),
        points,
        power_law: PowerLaw {
            p_ref_pa,
            q_ref_m3_per_s: Estimate::new(q_ref, 0.004 * q_ref, 0.011 * q_ref).with_dof(3.0),
            n: Estimate::new(0.55, 0.012, 0.002).with_dof(3.0),
            cov_ln_q_ref_n: 0.0,
            cov_ln_q_ref_n_common: 0.0,
            burst_scatter_ratio: 0.009,
            reduced_chi_square: 1.1,
        },
        two_term: Some(TwoTerm {
            a_pa_s_per_m3: Estimate::new(2.0e11, 3.0e10, 1.0e10),
            b_pa_s2_per_m6: Estimate::new(3.0e16, 2.0e15, 1.0e15),
            cov_a_b: 0.0,
            cov_a_b_common: 0.0,
            is_at_bound: false,
        }),
        preferred: CurveForm::PowerLaw,
        delta_aicc: Some(3.1),
        forms_disagree: false,
        lack_of_fit: Some(LackOfFit {
            f: 1.4,
            dof: (2.0, 3.0),
            p_value: 0.37,
        }),
        range_pa: Interval { low, high },
        residual_lag_1: None,
    }
}

fn crossing(pressure_pa: f64, q_100_l_min: f64) -> Crossing {
    Crossing {
        pressure_pa: Estimate::new(pressure_pa, 0.4 * BAR, 0.6 * BAR),
        flow_m3_per_s: q_100_l_min * (pressure_pa / (100.0 * BAR)).powf(0.55) * L_MIN,
        regime: SupplyRegime::Pressure,
        interval_95_pa: Interval {
            low: pressure_pa - 1.4 * BAR,
            high: pressure_pa + 1.4 * BAR,
        },
        is_measured: true,
    }
}

fn window(threshold_pa: f64, upper_pa: f64) -> Window {
    Window {
        lower_pa: Some(threshold_pa),
        lower_interval_pa: Some(Interval {
            low: threshold_pa - 4.4 * BAR,
            high: threshold_pa + 5.1 * BAR,
        }),
        upper_pa,
        upper_interval_pa: Interval {
            low: upper_pa - 1.4 * BAR,
            high: upper_pa + 1.4 * BAR,
        },
        upper_limit: UpperLimit::Supply,
        open_probability: 0.97,
        recommended_pa: Some((threshold_pa + 5.1 * BAR).min(upper_pa)),
        lowest_run_pa: None,
    }
}

fn add_burst(
    f: &mut Findings,
    group_index: usize,
    tip_code: &str,
    dial: usize,
    pressure_pa: Estimate,
    flow_m3_per_s: Estimate,
) {
    let index = f.bursts.len();
    let start_s = 5.0 + 12.0 * f64::from(u32::try_from(index).unwrap());
    let burst = Burst {
        start_s,
        end_s: start_s + 6.0,
        u_time_s: 0.02,
    };
    for i in 0..120 {
        let t = start_s - 4.0 + 0.1 * f64::from(i);
        let ripple = 2.0 * BAR * (f64::from(i) * 1.3).sin();
        let is_open = t >= burst.start_s && t <= burst.end_s;
        let stalled = pressure_pa.value * 1.05;
        f.signal.t_s.push(t);
        f.signal.pressure_pa.push(
            if is_open {
                pressure_pa.value + ripple
            } else {
                stalled
            } + f.zero_pa.value,
        );
    }
    f.notes.push(Note {
        line: index + 2,
        time: NoteTime::Clock {
            since_midnight_s: 30_000.0 + start_s + 9.0,
            resolution_s: 1.0,
        },
        tip: Some(tip_code.to_owned()),
        material: Some("hull primer".to_owned()),
        dial: Some(format!("{}", dial + 2)),
        tails: Some(0),
        runs: Some(false),
        text: (index == 0).then(|| HOSTILE.to_owned()),
        ..Note::default()
    });
    f.alignment.matches.push(NoteMatch {
        note_index: index,
        burst_index: Some(index),
        t_s: Some(start_s + 7.1),
        other_burst_index: (index == 1).then_some(0),
        is_ambiguous: false,
    });
    f.bursts.push(BurstFinding {
        burst,
        steady: SteadyMeasurement {
            from_s: start_s + 1.2,
            to_s: start_s + 5.5,
            pressure_pa: Some(pressure_pa),
            flow_m3_per_s: Some(flow_m3_per_s),
            flow_is_bound: false,
            stalled_pa: Some(pressure_pa.value * 1.05),
            sag_ratio: Some(0.048),
            stroke_rate_hz: Some(2.9),
            ripple_pa: Some(4.0 * BAR),
            supply_v: Some(35.1),
            supply_a: Some(18.0),
            material_k: Some(291.4),
            n_edges: 90,
            exclusion: None,
        },
        setting: Setting {
            tip: Some(tip_code.to_owned()),
            material: Some("hull primer".to_owned()),
            thinner_ratio: Some(0.03),
            dial: Some(format!("{}", dial + 2)),
            ..Setting::default()
        },
        note_indices: vec![index],
        tails: None,
        runs: Some(index % 3 == 2),
        comb_m: Some(125e-6),
        group_index: Some(group_index),
    });
}
