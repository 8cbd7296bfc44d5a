//! Everything that was found of a class: the value that its pages and its JSON are made from. Types only.

use crate::analysis::class::robust::Robust;
use crate::analysis::class::{ClassError, CurveScore, Precision, PrecisionRefusal, StudentResult};
use crate::analysis::nozzle_curve::{CurvePoint, CurveRefusal, NozzleCurve};
use crate::recording::settings::Tap;

/// A class.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassFindings {
    /// What the class did, in the teacher's words.
    pub title: Option<String>,
    /// Dates of the recordings, ascending, without repeats.
    pub dates: Vec<String>,
    /// Some recording was made by the simulated rig.
    pub is_simulated: bool,
    /// Codes stand in for names.
    pub is_blind: bool,
    /// What was sprayed; `None` when no recording tells.
    pub setting: Option<ClassSetting>,
    /// What the class is held against.
    pub reference: Result<Reference, ReferenceRefusal>,
    /// What z is measured in; `None` when there is none.
    pub scale: Option<ClassScale>,
    /// Repeatability and reproducibility, or why they are not known.
    pub precision: Result<Precision, PrecisionRefusal>,
    /// Students, in the order of the roster (of the codes, when blind).
    pub students: Vec<Student>,
    /// What must be known before a number is read.
    pub notices: Vec<ClassNotice>,
}

/// The setting that the class sprayed.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassSetting {
    /// Tip.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, 0 to 1.
    pub thinner_ratio: f64,
    /// Where the pressure was taken.
    pub tap: Tap,
}

/// What the class is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The curve.
    pub curve: NozzleCurve,
    /// Where it is from.
    pub source: ReferenceSource,
    /// Relative standard uncertainty of its flow at its reference pressure.
    pub u_ratio: f64,
}

/// Where a reference is from.
#[derive(Debug, Clone, PartialEq)]
pub enum ReferenceSource {
    /// A recording that the roster names.
    Recording {
        /// Its folder.
        name: String,
    },
    /// Robust mean of the class's own curves.
    Consensus {
        /// Robust mean and scale of `ln q`.
        ln_flow: Robust,
    },
}

/// Why the class is held against nothing.
#[derive(Debug, Clone, PartialEq)]
pub enum ReferenceRefusal {
    /// Fewer curves than a consensus needs.
    TooFewCurves {
        /// Curves there are.
        n_curves: usize,
        /// Curves needed.
        needed: usize,
    },
    /// The named recording cannot be read.
    Unreadable {
        /// Its folder.
        name: String,
        /// Why.
        message: String,
    },
    /// The named recording has no curve of the class's setting.
    NoCurve {
        /// Its folder.
        name: String,
    },
    /// The class cannot be scored at all.
    Unscored(ClassError),
    /// No recording tells what was sprayed.
    NoSetting,
}

/// What z is measured in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassScale {
    /// Relative standard deviation.
    pub sd_ratio: f64,
    /// True: the teacher stated it; false: robust scatter of the class's own means.
    pub is_stated: bool,
}

/// One student.
#[derive(Debug, Clone, PartialEq)]
pub struct Student {
    /// Name or code, unique.
    pub label: String,
    /// Place in the class's statistics; `None` when there is no reference.
    pub result: Option<StudentResult>,
    /// Their recordings.
    pub recordings: Vec<StudentRecording>,
    /// Two of their bursts to work with.
    pub exercise: Option<Exercise>,
}

/// One recording of a student.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentRecording {
    /// Folder; the student's code when blind.
    pub name: String,
    /// Bench; not told when blind.
    pub bench: Option<String>,
    /// What the recording carries, or why it is set aside.
    pub trial: Result<Trial, Aside>,
}

/// What one recording carries for the class.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Bursts of the class's setting, used or not.
    pub n_bursts: usize,
    /// The used ones.
    pub points: Vec<CurvePoint>,
    /// Reference flow at each point's pressure, m3/s; as long, empty without a reference.
    pub reference_m3_per_s: Vec<f64>,
    /// The curve, or why there is none.
    pub curve: Result<NozzleCurve, CurveRefusal>,
    /// The curve against the reference.
    pub score: Option<CurveScore>,
    /// Tail-free pressure, where it is bracketed, Pa.
    pub tail_free_pa: Option<f64>,
    /// True when its meter was never calibrated.
    pub is_nominal_meter: bool,
}

/// Why a recording is set aside.
#[derive(Debug, Clone, PartialEq)]
pub enum Aside {
    /// It cannot be read.
    Unreadable {
        /// Why.
        message: String,
    },
    /// No burst of it could be given to a tip and a coating.
    NoBursts,
    /// It holds other settings than the class's.
    OtherSetting {
        /// What it holds.
        found: String,
    },
    /// Its pressure was taken at the other end of the hose.
    OtherTap,
    /// None of its bursts of the class's setting is usable.
    NoneUsable {
        /// How many there are.
        n_bursts: usize,
    },
    /// Its flow is so far from the reference that units or meter constant are in question.
    OffScale {
        /// Flow over reference flow at the same pressure.
        flow_ratio: f64,
    },
}

/// Two bursts of a student, for the worksheet's sums.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exercise {
    /// Position of the recording among the student's.
    pub recording_index: usize,
    /// Position of the point at the lowest pressure.
    pub low_index: usize,
    /// Position of the point at the highest pressure.
    pub high_index: usize,
    /// `ln(q2 / q1) / ln(p2 / p1)`.
    pub exponent: f64,
    /// Flow over flow when the pressure is doubled, by that exponent.
    pub doubling_ratio: f64,
}

/// What must be known before a number is read.
#[derive(Debug, Clone, PartialEq)]
pub enum ClassNotice {
    /// Made by the simulated rig.
    Simulated,
    /// Fewer than two students have data.
    OneStudent,
    /// Recordings name different rigs.
    Rigs {
        /// Their names.
        names: Vec<String>,
    },
    /// Meters never calibrated.
    NominalMeters {
        /// Labels of the students.
        labels: Vec<String>,
    },
    /// Meters of different constants.
    Meters {
        /// How many.
        n_constants: usize,
    },
    /// Coating temperatures that differ.
    Temperatures {
        /// Lowest, K.
        low_k: f64,
        /// Highest, K.
        high_k: f64,
    },
    /// Names that several students bear.
    SameNames {
        /// The names.
        names: Vec<String>,
    },
}
