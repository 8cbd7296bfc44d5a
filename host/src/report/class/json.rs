//! `class.json`: a class as mirror types with stable keys. Described in `CLASS_JSON.md`.
//!
//! SI values with the unit in the key's name. A number that is not known or not finite is `null`. Decides
//! nothing.

use serde::Serialize;

use super::CLASS_SCHEMA_VERSION;
use crate::analysis::answer::Change;
use crate::analysis::class::{Precision, PrecisionRefusal, ScoreWord, Standing};
use crate::class_findings::{
    Aside, ClassFindings, ClassNotice, Exercise, Reference, ReferenceRefusal, ReferenceSource,
    Student, StudentRecording, Trial,
};
use crate::recording::settings::Tap;
use crate::report::json::{MadeBy, Refusal, Spread, Value, finite, finite_or_none};
use crate::units::UnitChoice;

/// The whole file.
#[derive(Debug, Serialize)]
pub(super) struct Document {
    schema: &'static str,
    schema_version: u32,
    made_by: MadeBy,
    units_shown: UnitChoice,
    class: Class,
    reference: Option<ReferenceMirror>,
    reference_refusal: Option<ReferenceRefusalMirror>,
    scale: Option<Scale>,
    precision: Option<PrecisionMirror>,
    precision_refusal: Option<PrecisionRefusal>,
    students: Vec<StudentMirror>,
    notices: Vec<Notice>,
    files: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Class {
    title: Option<String>,
    dates: Vec<String>,
    is_simulated: bool,
    is_blind: bool,
    tip: Option<String>,
    material: Option<String>,
    thinner_ratio: Option<f64>,
    tap: Option<Tap>,
    n_students: usize,
    n_with_data: usize,
    n_agree: Option<usize>,
}

#[derive(Debug, Serialize)]
struct ReferenceMirror {
    source: &'static str,
    recording: Option<String>,
    n_curves: Option<usize>,
    class_sd_ratio: Option<f64>,
    p_ref_pa: Option<f64>,
    q_ref_m3_per_s: Value,
    n: Value,
    u_ratio: Option<f64>,
}

#[derive(Debug, Default, Serialize)]
struct ReferenceRefusalMirror {
    reason: &'static str,
    n_curves: Option<usize>,
    n_needed: Option<usize>,
    recording: Option<String>,
    message: Option<String>,
}

#[derive(Debug, Serialize)]
struct Scale {
    source: &'static str,
    sd_ratio: Option<f64>,
}

#[derive(Debug, Serialize)]
struct PrecisionMirror {
    repeatability_sd_ratio: Spread,
    repeatability_dof: Option<f64>,
    reproducibility_sd_ratio: Spread,
    repeatability_limit_ratio: Option<f64>,
    reproducibility_limit_ratio: Option<f64>,
    student_sd_ratio: Option<f64>,
    bench_sd_ratio: Option<f64>,
    p_value_probability: Option<f64>,
    h_critical: Option<f64>,
    k_critical: Option<f64>,
    n_students: usize,
    n_bursts: usize,
}

#[derive(Debug, Serialize)]
struct StudentMirror {
    label: String,
    standing: Option<Standing>,
    n_bursts: usize,
    deviation_ratio: Option<f64>,
    deviation_low_95_ratio: Option<f64>,
    deviation_high_95_ratio: Option<f64>,
    deviation_expanded_95_ratio: Option<f64>,
    z: Option<f64>,
    word: Option<ScoreWord>,
    zeta: Option<f64>,
    h: Option<f64>,
    k: Option<f64>,
    recordings: Vec<RecordingMirror>,
    exercise: Option<ExerciseMirror>,
}

#[derive(Debug, Serialize)]
struct RecordingMirror {
    recording: String,
    bench: Option<String>,
    n_bursts: Option<usize>,
    n_used: Option<usize>,
    curve: Option<CurveMirror>,
    curve_refusal: Option<Refusal>,
    score: Option<ScoreMirror>,
    tail_free_pa: Option<f64>,
    bursts: Vec<BurstMirror>,
    aside: Option<AsideMirror>,
}

#[derive(Debug, Serialize)]
struct CurveMirror {
    p_ref_pa: Option<f64>,
    q_ref_m3_per_s: Value,
    n: Value,
}

#[derive(Debug, Serialize)]
struct ScoreMirror {
    pressure_pa: Option<f64>,
    flow_ratio: Spread,
    flow_change: Change,
    exponent_difference: Value,
    exponent_change: Change,
    z_flow: Option<f64>,
    z_exponent: Option<f64>,
}

#[derive(Debug, Serialize)]
struct BurstMirror {
    number: usize,
    pressure_pa: Value,
    flow_m3_per_s: Value,
    reference_m3_per_s: Option<f64>,
    deviation_ratio: Option<f64>,
}

#[derive(Debug, Default, Serialize)]
struct AsideMirror {
    reason: &'static str,
    message: Option<String>,
    found: Option<String>,
    n_bursts: Option<usize>,
    flow_ratio: Option<f64>,
}

#[derive(Debug, Serialize)]
struct ExerciseMirror {
    recording_index: usize,
    low_number: usize,
    high_number: usize,
    exponent: Option<f64>,
    doubling_ratio: Option<f64>,
}

#[derive(Debug, Default, Serialize)]
struct Notice {
    code: &'static str,
    names: Vec<String>,
    n_constants: Option<usize>,
    low_k: Option<f64>,
    high_k: Option<f64>,
}

impl Document {
    /// Mirrors a class; `files` are the names of what was written beside the file.
    pub(super) fn new(
        class: &ClassFindings,
        units: UnitChoice,
        made_at: Option<String>,
        files: Vec<String>,
    ) -> Self {
        let reference = class.reference.as_ref();
        Self {
            schema: "tipcurve-class",
            schema_version: CLASS_SCHEMA_VERSION,
            made_by: MadeBy::new(made_at),
            units_shown: units,
            class: head(class),
            reference: reference.ok().map(mirror_reference),
            reference_refusal: reference.err().map(mirror_refusal),
            scale: class.scale.map(|s| Scale {
                source: if s.is_stated { "stated" } else { "class" },
                sd_ratio: finite(s.sd_ratio),
            }),
            precision: class.precision.as_ref().ok().map(mirror_precision),
            precision_refusal: class.precision.as_ref().err().copied(),
            students: class.students.iter().map(mirror_student).collect(),
            notices: class.notices.iter().map(mirror_notice).collect(),
            files,
        }
    }

    /// The text of the file, indented, with a final newline.
    pub(super) fn to_text(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

fn head(class: &ClassFindings) -> Class {
    let setting = class.setting.as_ref();
    Class {
        title: class.title.clone(),
        dates: class.dates.clone(),
        is_simulated: class.is_simulated,
        is_blind: class.is_blind,
        tip: setting.map(|s| s.tip.clone()),
        material: setting.map(|s| s.material.clone()),
        thinner_ratio: finite_or_none(setting.map(|s| s.thinner_ratio)),
        tap: setting.map(|s| s.tap),
        n_students: class.students.len(),
        n_with_data: super::n_with_data(class),
        n_agree: super::n_agree(class),
    }
}

fn mirror_reference(r: &Reference) -> ReferenceMirror {
    let law = &r.curve.power_law;
    let (source, recording, ln_flow) = match &r.source {
        ReferenceSource::Recording { name } => ("recording", Some(name.clone()), None),
        ReferenceSource::Consensus { ln_flow } => ("consensus", None, Some(ln_flow)),
    };
    ReferenceMirror {
        source,
        recording,
        n_curves: ln_flow.map(|l| l.n),
        class_sd_ratio: finite_or_none(ln_flow.map(|l| l.sd)),
        p_ref_pa: finite(law.p_ref_pa),
        q_ref_m3_per_s: Value::from(&law.q_ref_m3_per_s),
        n: Value::from(&law.n),
        u_ratio: finite(r.u_ratio),
    }
}

fn mirror_refusal(refusal: &ReferenceRefusal) -> ReferenceRefusalMirror {
    let new = |reason| ReferenceRefusalMirror {
        reason,
        ..ReferenceRefusalMirror::default()
    };
    match refusal {
        ReferenceRefusal::TooFewCurves { n_curves, needed } => ReferenceRefusalMirror {
            n_curves: Some(*n_curves),
            n_needed: Some(*needed),
            ..new("too_few_curves")
        },
        ReferenceRefusal::Unreadable { name, message } => ReferenceRefusalMirror {
            recording: Some(name.clone()),
            message: Some(message.clone()),
            ..new("unreadable")
        },
        ReferenceRefusal::NoCurve { name } => ReferenceRefusalMirror {
            recording: Some(name.clone()),
            ..new("no_curve")
        },
        ReferenceRefusal::Unscored(error) => ReferenceRefusalMirror {
            message: Some(error.to_string()),
            ..new("unscored")
        },
        ReferenceRefusal::NoSetting => new("no_setting"),
    }
}

fn mirror_precision(p: &Precision) -> PrecisionMirror {
    PrecisionMirror {
        repeatability_sd_ratio: Spread::from(&p.repeatability_sd),
        repeatability_dof: finite(p.repeatability_dof),
        reproducibility_sd_ratio: Spread::from(&p.reproducibility_sd),
        repeatability_limit_ratio: finite(p.repeatability_limit),
        reproducibility_limit_ratio: finite(p.reproducibility_limit),
        student_sd_ratio: finite(p.student_sd),
        bench_sd_ratio: finite_or_none(p.bench_sd),
        p_value_probability: finite(p.p_value),
        h_critical: finite_or_none(p.h_critical),
        k_critical: finite_or_none(p.k_critical),
        n_students: p.n_students,
        n_bursts: p.n_bursts,
    }
}

fn mirror_student(s: &Student) -> StudentMirror {
    let result = s.result.as_ref();
    let interval = result.and_then(super::interval_of);
    StudentMirror {
        label: s.label.clone(),
        standing: result.map(|r| r.standing),
        n_bursts: result.map_or(0, |r| r.n_bursts),
        deviation_ratio: finite_or_none(result.and_then(|r| r.deviation).map(f64::exp_m1)),
        deviation_low_95_ratio: finite_or_none(interval.map(|i| i.low)),
        deviation_high_95_ratio: finite_or_none(interval.map(|i| i.high)),
        deviation_expanded_95_ratio: finite_or_none(interval.map(|i| 0.5 * (i.high - i.low))),
        z: finite_or_none(result.and_then(|r| r.z)),
        word: result.and_then(|r| r.word),
        zeta: finite_or_none(result.and_then(|r| r.zeta)),
        h: finite_or_none(result.and_then(|r| r.h)),
        k: finite_or_none(result.and_then(|r| r.k)),
        recordings: s.recordings.iter().map(mirror_recording).collect(),
        exercise: s.exercise.as_ref().map(|e| mirror_exercise(s, e)),
    }
}

fn mirror_exercise(s: &Student, e: &Exercise) -> ExerciseMirror {
    let number = |index: usize| {
        let trial = s.recordings.get(e.recording_index);
        let points = trial.and_then(|r| r.trial.as_ref().ok()).map(|t| &t.points);
        points
            .and_then(|p| p.get(index))
            .map_or(0, |p| p.burst_index + 1)
    };
    ExerciseMirror {
        recording_index: e.recording_index,
        low_number: number(e.low_index),
        high_number: number(e.high_index),
        exponent: finite(e.exponent),
        doubling_ratio: finite(e.doubling_ratio),
    }
}

fn mirror_recording(r: &StudentRecording) -> RecordingMirror {
    let trial = r.trial.as_ref().ok();
    RecordingMirror {
        recording: r.name.clone(),
        bench: r.bench.clone(),
        n_bursts: trial.map(|t| t.n_bursts),
        n_used: trial.map(|t| t.points.len()),
        curve: trial
            .and_then(|t| t.curve.as_ref().ok())
            .map(|c| CurveMirror {
                p_ref_pa: finite(c.power_law.p_ref_pa),
                q_ref_m3_per_s: Value::from(&c.power_law.q_ref_m3_per_s),
                n: Value::from(&c.power_law.n),
            }),
        curve_refusal: trial.and_then(|t| t.curve.as_ref().err()).map(Refusal::new),
        score: trial.and_then(|t| t.score).map(|s| ScoreMirror {
            pressure_pa: finite(s.comparison.pressure_pa),
            flow_ratio: Spread::from(&s.comparison.flow.ratio),
            flow_change: s.comparison.flow.change,
            exponent_difference: Value::from(&s.comparison.exponent_difference),
            exponent_change: s.comparison.exponent_change,
            z_flow: finite(s.z_flow),
            z_exponent: finite(s.z_exponent),
        }),
        tail_free_pa: finite_or_none(trial.and_then(|t| t.tail_free_pa)),
        bursts: trial.map(mirror_bursts).unwrap_or_default(),
        aside: r.trial.as_ref().err().map(mirror_aside),
    }
}

fn mirror_bursts(t: &Trial) -> Vec<BurstMirror> {
    t.points
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let reference = t.reference_m3_per_s.get(i).copied();
            BurstMirror {
                number: p.burst_index + 1,
                pressure_pa: Value::from(&p.pressure_pa),
                flow_m3_per_s: Value::from(&p.flow_m3_per_s),
                reference_m3_per_s: finite_or_none(reference),
                deviation_ratio: finite_or_none(
                    reference.map(|q| super::deviation(p.flow_m3_per_s.value, q)),
                ),
            }
        })
        .collect()
}

fn mirror_aside(aside: &Aside) -> AsideMirror {
    let new = |reason| AsideMirror {
        reason,
        ..AsideMirror::default()
    };
    match aside {
        Aside::Unreadable { message } => AsideMirror {
            message: Some(message.clone()),
            ..new("unreadable")
        },
        Aside::NoBursts => new("no_bursts"),
        Aside::OtherSetting { found } => AsideMirror {
            found: Some(found.clone()),
            ..new("other_setting")
        },
        Aside::OtherTap => new("other_tap"),
        Aside::NoneUsable { n_bursts } => AsideMirror {
            n_bursts: Some(*n_bursts),
            ..new("none_usable")
        },
        Aside::OffScale { flow_ratio } => AsideMirror {
            flow_ratio: finite(*flow_ratio),
            ..new("off_scale")
        },
    }
}

fn mirror_notice(notice: &ClassNotice) -> Notice {
    let new = |code| Notice {
        code,
        ..Notice::default()
    };
    match notice {
        ClassNotice::Simulated => new("simulated"),
        ClassNotice::OneStudent => new("one_student"),
        ClassNotice::Rigs { names } => Notice {
            names: names.clone(),
            ..new("rigs")
        },
        ClassNotice::NominalMeters { labels } => Notice {
            names: labels.clone(),
            ..new("nominal_meters")
        },
        ClassNotice::Meters { n_constants } => Notice {
            n_constants: Some(*n_constants),
            ..new("meters")
        },
        ClassNotice::Temperatures { low_k, high_k } => Notice {
            low_k: finite(*low_k),
            high_k: finite(*high_k),
            ..new("temperatures")
        },
        ClassNotice::SameNames { names } => Notice {
            names: names.clone(),
            ..new("same_names")
        },
    }
}
