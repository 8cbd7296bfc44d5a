//! Findings made by hand: a narrowboat yard with invented coatings and rigs, every kind of verdict, and text that
//! tries to break out of a page.

use tipcurve::analysis::align::{Alignment, NoteMatch};
use tipcurve::analysis::burst::Burst;
use tipcurve::analysis::clock::{ClockModel, Link, fit_clock};
use tipcurve::analysis::group::{Group, Setting};
use tipcurve::analysis::health::{Defect, DefectKind};
use tipcurve::analysis::nozzle_curve::{
    CurveForm, CurvePoint, CurveRefusal, LackOfFit, NozzleCurve, PowerLaw, TwoTerm,
};
use tipcurve::analysis::signal::{FlowMeter, FlowSignal, Gap, PressureSensor, Signal};
use tipcurve::analysis::steady::{Exclusion, SteadyMeasurement};
use tipcurve::analysis::supply_curve::{
    Crossing, SupplyCurve, SupplyForm, SupplyPoint, SupplyRegime,
};
use tipcurve::analysis::tail_threshold::{Grade, TailThreshold};
use tipcurve::analysis::verdict::{Advice, Evidence, NextTrial, Verdict, VerdictKind};
use tipcurve::analysis::window::{UpperLimit, Window};
use tipcurve::estimate::{Estimate, Interval};
use tipcurve::findings::{Air, BurstFinding, CatchCheck, Findings, GroupFinding};
use tipcurve::recording::LoadDefect;
use tipcurve::recording::notes::{Note, NoteTime};
use tipcurve::recording::settings;
use tipcurve::recording::settings::{Limits, Material, Settings, Tip};

const BAR: f64 = 1e5;
const L_MIN: f64 = 1e-3 / 60.0;

/// Text that a page must show and never obey.
pub(crate) const HOSTILE: &str = "<script>alert('x')</script> & \"primer\" \u{0}\u{7}]]>";

/// All examples.
pub(crate) fn all() -> Vec<Findings> {
    vec![yard(), every_kind(), empty()]
}

/// A recording without a reading, a note or a burst.
pub(crate) fn empty() -> Findings {
    Findings {
        name: "empty".to_owned(),
        is_simulated: false,
        settings: Settings::default(),
        notes: Vec::new(),
        load_defects: Vec::new(),
        signal: Signal::default(),
        zero_pa: Estimate::exact(0.0),
        defects: Vec::new(),
        clock: None,
        air: None,
        catches: Vec::new(),
        alignment: Alignment::default(),
        bursts: Vec::new(),
        groups: Vec::new(),
        supply: Vec::new(),
        verdicts: Vec::new(),
        energy: None,
    }
}

/// Two tips with one coating on a bench pump: one open window, one at the atomisation limit.
pub(crate) fn yard() -> Findings {
    let mut f = base("yard");
    add_group(&mut f, "415", 0.95, &[50.0, 65.0, 80.0, 95.0, 110.0]);
    add_group(&mut f, "311", 0.52, &[60.0, 85.0, 110.0, 130.0]);
    f.groups[1].tail_threshold = TailThreshold::Above {
        highest_with_tails_pa: 130.0 * BAR,
        n_grades: 4,
    };
    f.groups[1].window = None;
    f.supply = vec![supply(&f)];
    f.verdicts = vec![
        verdict(0, VerdictKind::HealthyWindow),
        verdict(1, VerdictKind::AtomisationLimit),
    ];
    f
}

/// A host's clock that gains a little and was put forward half-way.
fn clock_put_right() -> ClockModel {
    let arrivals: Vec<(f64, f64)> = (0..200u32)
        .map(|i| {
            let t = f64::from(i);
            let put_forward = if t < 100.0 { 0.0 } else { 12.5 };
            (t, 1.00004 * t + put_forward + 0.002 * f64::from(i % 5))
        })
        .collect();
    fit_clock(&arrivals, &Link::default()).unwrap()
}

/// Eleven settings, one for each kind of verdict, with hostile text, defects and refusals.
pub(crate) fn every_kind() -> Findings {
    use VerdictKind as K;
    let kinds = [
        K::HealthyWindow,
        K::AtomisationLimit,
        K::SupplyLimit,
        K::RestrictionTip,
        K::RestrictionInlet,
        K::WeakBattery,
        K::WornTip,
        K::ApplicationLimit,
        K::ColdMaterial,
        K::InsufficientData,
        K::Undetermined,
    ];
    let mut f = base(HOSTILE);
    f.is_simulated = true;
    f.signal.flow_meter.is_nominal = true;
    for (i, kind) in kinds.into_iter().enumerate() {
        let tip = if i == 1 {
            HOSTILE.to_owned()
        } else {
            format!("{}", 209 + 102 * i)
        };
        add_group(
            &mut f,
            &tip,
            0.4 + 0.1 * f64::from(u32::try_from(i).unwrap()),
            &[55.0, 80.0, 120.0],
        );
        f.verdicts.push(verdict(i, kind));
    }
    if let Ok(curve) = &mut f.groups[1].curve {
        curve.forms_disagree = true;
    }
    f.clock = Some(clock_put_right());
    f.air = Some(Air {
        air_k: Estimate::new(288.4, 0.4, 0.3),
        humidity_ratio: Estimate::new(0.62, 0.01, 0.02),
        dew_point_k: Estimate::new(281.2, 0.3, 0.5),
        least_surface_k: 285.4,
    });
    f.catches = vec![
        CatchCheck {
            note_index: 0,
            burst_index: 0,
            metered_over_caught: Ok(Estimate::new(1.06, 0.01, 0.015)),
        },
        CatchCheck {
            note_index: 1,
            burst_index: 1,
            metered_over_caught: Err(HOSTILE.to_owned()),
        },
    ];
    // A restriction needs an earlier state of the same setting.
    f.groups[3].group.tip = f.groups[2].group.tip.clone();
    f.groups[3].group.phase = 1;
    f.groups[3].baseline_group = Some(2);
    f.groups[3].flow_ratio_to_baseline = Some(Estimate::new(0.81, 0.012, 0.004));
    f.groups[3].flow_ratio_by_temperature = Some(Estimate::new(0.93, 0.02, 0.01));
    refuse(&mut f);
    f.supply = vec![supply(&f), step_supply(&f)];
    f.defects = every_defect();
    f.load_defects = vec![LoadDefect {
        code: "torn_tail".to_owned(),
        range_s: Some((900.0, 904.6)),
        message: format!("the last bytes of the log were ignored {HOSTILE}"),
    }];
    exclude(&mut f);
    f
}

fn base(name: &str) -> Findings {
    let mut f = empty();
    f.name = name.to_owned();
    f.settings = Settings {
        date: Some("2031-05-04".to_owned()),
        rig: Some("bench pump of the yard".to_owned()),
        materials: vec![Material {
            name: "hull primer".to_owned(),
            volume_solids_ratio: Some(0.52),
            max_thinner_ratio: Some(0.05),
            max_temperature_k: Some(308.15),
            ..Material::default()
        }],
        tips: ["209", "311", "415", "521"].map(tip).to_vec(),
        flow_meter: settings::FlowMeter {
            k_factor_per_m3: Some(3.0e6),
            ..settings::FlowMeter::default()
        },
        limits: Limits {
            working_pressure_pa: Some(200.0 * BAR),
            battery_v: Some(36.0),
            ..Limits::default()
        },
        ..Settings::default()
    };
    f.signal = Signal {
        flow: FlowSignal::default(),
        gaps: vec![Gap {
            from_s: 12.0,
            to_s: 13.5,
        }],
        pressure_sensor: PressureSensor {
            full_scale_pa: Some(250.0 * BAR),
            u_zero_pa: 0.3 * BAR,
            u_span_ratio: 0.005,
            resolution_pa: None,
        },
        flow_meter: FlowMeter {
            pulse_volume_m3: 1.0 / 3.0e6,
            u_pulse_volume_ratio: 0.01,
            is_nominal: false,
            lowest_calibrated_hz: Some(2.0),
        },
        ..Signal::default()
    };
    f.zero_pa = Estimate::new(0.41 * BAR, 0.02 * BAR, 0.3 * BAR);
    f.alignment = Alignment {
        cost: 12.5,
        runner_up_cost: Some(31.0),
        clock_offset_s: Some(-2.7),
        u_clock_offset_s: Some(0.9),
        ..Alignment::default()
    };
    f
}

fn tip(code: &str) -> Tip {
    let thou: f64 = code[1..].parse().unwrap();
    let fan: f64 = code[..1].parse().unwrap();
    Tip {
        code: code.to_owned(),
        orifice_diameter_m: Some(thou * 25.4e-6),
        fan_width_m: Some(fan * 0.0508),
        reference_distance_m: Some(0.305),
        ..Tip::default()
    }
}

/// Adds a group with a burst at each pressure, its curve, grades and window, and readings for the trace.
fn add_group(f: &mut Findings, tip_code: &str, q_100_l_min: f64, pressures_bar: &[f64]) {
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

fn supply_points(f: &Findings) -> Vec<SupplyPoint> {
    f.bursts
        .iter()
        .enumerate()
        .filter_map(|(i, b)| {
            Some(SupplyPoint {
                burst_index: i,
                tip: b.setting.tip.clone()?,
                flow_m3_per_s: b.steady.flow_m3_per_s?,
                pressure_pa: b.steady.pressure_pa?,
                stalled_pa: b.steady.stalled_pa,
                supply_v: b.steady.supply_v,
                t_s: b.burst.start_s,
            })
        })
        .collect()
}

fn supply(f: &Findings) -> SupplyCurve {
    SupplyCurve {
        dial: "10".to_owned(),
        is_full: true,
        points: supply_points(f),
        form: SupplyForm::Shaped {
            p_max_pa: Estimate::new(140.0 * BAR, 0.8 * BAR, 0.7 * BAR),
            power_w: Some(Estimate::new(290.0, 6.0, 3.0)),
            q_max_m3_per_s: None,
            power_per_v_ratio: Some(Estimate::new(0.05, 0.01, 0.0)),
        },
    }
}

fn step_supply(f: &Findings) -> SupplyCurve {
    SupplyCurve {
        dial: HOSTILE.to_owned(),
        is_full: false,
        points: supply_points(f).into_iter().take(2).collect(),
        form: SupplyForm::Step {
            flow_m3_per_s: vec![0.5 * L_MIN, 1.0 * L_MIN],
            pressure_pa: vec![120.0 * BAR, 90.0 * BAR],
        },
    }
}

/// Every advice in one verdict or another; every trial; codes known and not.
fn verdict(group_index: usize, kind: VerdictKind) -> Verdict {
    let evidence = |code: &str, value: f64, half: Option<f64>, threshold| Evidence {
        code: code.to_owned(),
        value,
        low: half.map(|h| value - h),
        high: half.map(|h| value + h),
        threshold,
    };
    let trials = [
        NextTrial::ConfirmRecommended {
            pressure_pa: 85.0 * BAR,
        },
        NextTrial::BurstAtPressure {
            pressure_pa: 70.0 * BAR,
        },
        NextTrial::BurstAtFullDial,
        NextTrial::RepeatAfterCleaning,
        NextTrial::OtherTipAtFullDial { smaller: true },
        NextTrial::RepeatWithFullBattery,
        NextTrial::RepeatWithNewTip,
        NextTrial::OtherTipAtFullDial { smaller: false },
        NextTrial::RepeatAtTemperature {
            temperature_k: 293.15,
        },
        NextTrial::TimeTheNotes,
        NextTrial::GradeTails,
    ];
    Verdict {
        group_index,
        kind,
        confidence: 0.93,
        evidence: vec![
            evidence("held_pressure_pa", 118.0 * BAR, Some(1.4 * BAR), None),
            evidence("sag_ratio", 0.048, None, None),
            evidence("flow_ratio_to_baseline", 0.81, Some(0.025), Some(0.94)),
            evidence("some_new_code_pa", 12.0 * BAR, None, Some(10.0 * BAR)),
        ],
        advice: advice_of(kind),
        advice_against: vec![Advice::RaisePressure, Advice::LargerTip],
        next_trial: Some(trials[group_index % trials.len()].clone()),
        because: match kind {
            VerdictKind::InsufficientData => vec!["too_few_pressures".to_owned()],
            VerdictKind::Undetermined => {
                vec!["atomisation_or_supply".to_owned(), "a_new_code".to_owned()]
            }
            _ => Vec::new(),
        },
    }
}

fn advice_of(kind: VerdictKind) -> Vec<Advice> {
    use Advice as A;
    match kind {
        VerdictKind::HealthyWindow => vec![A::Keep, A::LowerPressure],
        VerdictKind::AtomisationLimit => vec![
            A::ThinMaterial,
            A::WarmMaterial,
            A::LargerOrificeSameFan,
            A::NarrowerFan,
        ],
        VerdictKind::SupplyLimit => vec![A::SmallerTip, A::LargerPump, A::SmallerOrificeSameFan],
        VerdictKind::RestrictionTip => vec![A::CleanTip, A::StrainMaterial],
        VerdictKind::RestrictionInlet => vec![A::CleanInletStrainer, A::ServicePump],
        VerdictKind::WeakBattery => vec![A::ChargeBattery],
        VerdictKind::WornTip => vec![A::ReplaceTip],
        VerdictKind::ApplicationLimit => {
            vec![A::FasterPass, A::WiderFan, A::LessThinner, A::SecondPass]
        }
        VerdictKind::ColdMaterial => vec![A::WarmMaterial, A::RaisePressure, A::LargerTip],
        VerdictKind::InsufficientData => vec![A::CheckSensor, A::CheckUnits, A::FixNotes],
        VerdictKind::Undetermined => vec![A::CollectMoreData],
    }
}

/// Gives the last groups one refusal each.
fn refuse(f: &mut Findings) {
    let refusals = [
        CurveRefusal::NoPoints,
        CurveRefusal::TooFewPressures {
            distinct_pa: vec![62.0 * BAR, 70.0 * BAR],
            needed: 3,
            suggest_pa: 50.0 * BAR,
        },
        CurveRefusal::NarrowRange {
            ratio: 1.13,
            needed: 1.25,
            suggest_pa: 90.0 * BAR,
        },
        CurveRefusal::TemperatureChanged {
            low_k: 280.15,
            high_k: 296.15,
        },
        CurveRefusal::Inconsistent {
            scatter_ratio: 0.31,
        },
        CurveRefusal::ImplausibleExponent {
            n: 1.8,
            low: 0.4,
            high: 1.1,
        },
        CurveRefusal::NotPositive { burst_index: 4 },
        CurveRefusal::NotFitted {
            what: "no convergence in 200 iterations".to_owned(),
        },
    ];
    let n = f.groups.len();
    for (group, refusal) in f.groups[n - refusals.len()..].iter_mut().zip(refusals) {
        group.curve = Err(refusal);
    }
    f.groups[9].curve = Err(CurveRefusal::TooFewPressures {
        distinct_pa: vec![62.0 * BAR],
        needed: 3,
        suggest_pa: 50.0 * BAR,
    });
    f.groups[8].window = None;
    f.groups[9].tail_threshold = TailThreshold::NoGrades;
    f.groups[9].grades.clear();
    f.groups[10].tail_threshold = TailThreshold::Below {
        lowest_without_pa: 55.0 * BAR,
        n_grades: 3,
    };
}

fn every_defect() -> Vec<Defect> {
    use DefectKind as D;
    [
        D::PressureSaturated,
        D::PressureStuck,
        D::PressureScaleChanged,
        D::Gap,
        D::EdgeBounce,
        D::ZeroDrift,
        D::ZeroUnknown,
        D::ClockJump,
        D::DeviceRestart,
        D::SampleRate,
        D::SupplyBrownOut,
        D::NominalMeter,
        D::MeterDisagreesWithCatch,
        D::FlowMissing,
        D::FlowImplausible,
    ]
    .into_iter()
    .map(|kind| Defect {
        kind,
        from_s: 3.0,
        to_s: 9.5,
        magnitude: Some(0.13),
        is_fatal: kind == D::PressureStuck,
        consequence: "what it means for the results".to_owned(),
    })
    .collect()
}

/// Gives the first bursts one reason each for not being used.
fn exclude(f: &mut Findings) {
    let reasons = [
        Exclusion::TooShort {
            steady_s: 0.41,
            needed_s: 0.8,
        },
        Exclusion::NotSteady { drift_ratio: 0.31 },
        Exclusion::TooFewEdges { n_edges: 2 },
        Exclusion::Gap { from_s: 12.0 },
        Exclusion::Health {
            code: "pressure_stuck".to_owned(),
        },
        Exclusion::Sync,
        Exclusion::NoNote,
        Exclusion::AmbiguousNote,
        Exclusion::NotNoted,
    ];
    for (burst, reason) in f.bursts.iter_mut().zip(reasons) {
        burst.steady.exclusion = Some(reason);
    }
    f.bursts[3].steady.flow_is_bound = true;
    f.alignment.matches[2].is_ambiguous = true;
    f.alignment.matches[2].other_burst_index = Some(3);
    f.alignment.matches[4].burst_index = None;
    f.notes[4].event = Some("filter_cleaned".to_owned());
    f.notes[5].time = NoteTime::OrderedOnly;
}
