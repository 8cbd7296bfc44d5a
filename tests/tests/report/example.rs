//! Findings made by hand: a narrowboat yard with invented coatings and rigs, every kind of verdict, and text that
//! tries to break out of a page.

mod faults;
mod group;

use tipcurve::analysis::align::Alignment;
use tipcurve::analysis::clock::{ClockModel, Link, fit_clock};
use tipcurve::analysis::signal::{FlowMeter, FlowSignal, Gap, PressureSensor, Signal};
use tipcurve::analysis::supply_curve::{SupplyCurve, SupplyForm, SupplyPoint};
use tipcurve::analysis::tail_threshold::TailThreshold;
use tipcurve::analysis::verdict::{Advice, Evidence, NextTrial, Verdict, VerdictKind};
use tipcurve::estimate::Estimate;
use tipcurve::findings::{Air, CatchCheck, Findings};
use tipcurve::recording::settings::{Limits, Material, Settings, Tip};
use tipcurve::recording::{LoadDefect, settings};

use faults::{every_defect, exclude, refuse};
use group::add_group;

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
