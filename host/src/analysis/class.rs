//! Many benches and students: each one's place against the reference, and how well the class repeats and
//! agrees.
//!
//! Every burst becomes one number, the logarithm of its flow over that of the reference curve at the same
//! pressure: a relative deviation that bursts at different pressures share. From these come each student's
//! mean with a z-score (ISO 13528), the class's repeatability and reproducibility (ISO 5725-2) as
//! components of variance over students and, where they can be told apart, benches, and the h and k
//! statistics that show who differs and who scatters. A student with one burst, with none, or with
//! somebody else's name is said to be so and left out of what the data cannot carry. Whole curves are held
//! against the reference by [`score_curve`]. Checked in `tests/tests/checks_anova.rs` and
//! `tests/tests/checks_apply_class.rs`.

pub mod consensus;
mod precision;
pub mod robust;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::analysis::compare::{
    Calibration, CompareError, CurveComparison, Margins, compare_curves,
};
use crate::analysis::nozzle_curve::{CurvePoint, NozzleCurve};
use crate::estimate::Estimate;
pub use precision::{Precision, PrecisionRefusal};

/// Up to here a score is satisfactory (ISO 13528:2022, 9.4.2).
const QUESTIONABLE_FROM: f64 = 2.0;
/// From here it is unsatisfactory (ISO 13528:2022, 9.4.2).
const UNSATISFACTORY_FROM: f64 = 3.0;

/// The bursts of one recording of one student.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Student, as the recording names them.
    pub student: String,
    /// Number on the roster; tells two students of one name apart and joins one student's recordings.
    pub roster_id: Option<String>,
    /// Bench.
    pub bench: Option<String>,
    /// Recording, by name.
    pub recording: String,
    /// Relative deviations from the reference, one a burst ([`deviations_from`]).
    pub deviations: Vec<f64>,
}

/// What a z-score is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scale {
    /// The class's own scatter of students' means.
    Class,
    /// A relative standard deviation that the teacher expects of a good result.
    Stated(f64),
}

/// What the data of one student carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Two bursts or more.
    Complete,
    /// One burst: a mean, but no scatter of their own.
    OneBurst,
    /// No burst: no number.
    NoData,
}

/// The word for a score (ISO 13528:2022, 9.4.2).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ScoreWord {
    /// Within two.
    Satisfactory,
    /// From two to three: look again.
    Questionable,
    /// Three or more: find the cause.
    Unsatisfactory,
}

impl ScoreWord {
    /// The word for a score of either sign; `None` for a score that is not a number.
    #[must_use]
    pub fn of(score: f64) -> Option<Self> {
        let size = score.abs();
        if size <= QUESTIONABLE_FROM {
            Some(Self::Satisfactory)
        } else if size < UNSATISFACTORY_FROM {
            Some(Self::Questionable)
        } else if size >= UNSATISFACTORY_FROM {
            Some(Self::Unsatisfactory)
        } else {
            None
        }
    }
}

/// One student's place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StudentResult {
    /// Unique within the class: the name, with the roster number where a name occurs twice.
    pub label: String,
    /// Their recordings.
    pub recordings: Vec<String>,
    /// Bursts.
    pub n_bursts: usize,
    /// What the data carry.
    pub standing: Standing,
    /// Mean relative deviation from the reference; its independent part is the class's repeatability
    /// over the number of bursts, its common part the reference's doubt. `None` without data or repeatability.
    pub mean: Option<Estimate>,
    /// Mean deviation alone.
    pub deviation: Option<f64>,
    /// Mean deviation in units of the scale.
    pub z: Option<f64>,
    /// The word for z.
    pub word: Option<ScoreWord>,
    /// Mean deviation in units of its own and the reference's doubt (ISO 13528 zeta score).
    pub zeta: Option<f64>,
    /// Between-student consistency statistic (ISO 5725-2, 8.3.1).
    pub h: Option<f64>,
    /// Within-student consistency statistic (ISO 5725-2, 8.3.1).
    pub k: Option<f64>,
}

/// A class.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClassResult {
    /// Students in the order of their first recording.
    pub students: Vec<StudentResult>,
    /// Repeatability and reproducibility, or why they are not known.
    pub precision: Result<Precision, PrecisionRefusal>,
    /// Names that stand for more than one student of the roster: kept apart by number.
    pub names_of_several: Vec<String>,
    /// Names in more than one recording without a roster number: taken for one student. Check them.
    pub names_to_check: Vec<String>,
}

/// Why a class cannot be scored at all.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ClassError {
    /// No entries.
    #[error("the class has no recording; add one folder a student")]
    Empty,
    /// A deviation is not finite.
    #[error("recording {recording}: deviation {deviation} of burst {burst_number} is not finite")]
    NotFinite {
        /// Recording.
        recording: String,
        /// Burst, from 1.
        burst_number: usize,
        /// The deviation.
        deviation: f64,
    },
    /// The stated scale or the reference's doubt is no usable number.
    #[error("{what} is {value}; it must be a finite number {needed}")]
    BadNumber {
        /// Which.
        what: &'static str,
        /// The number.
        value: f64,
        /// What it must be.
        needed: &'static str,
    },
}

/// Relative deviations of bursts from a reference curve: the logarithm of flow over reference flow at the
/// burst's pressure. A point without a positive pressure and flow is left out.
#[must_use]
pub fn deviations_from(points: &[CurvePoint], reference: &NozzleCurve) -> Vec<f64> {
    let deviation = |p: &CurvePoint| {
        let expected = reference.flow_at(p.pressure_pa.value).value;
        (p.flow_m3_per_s.value / expected).ln()
    };
    points
        .iter()
        .map(deviation)
        .filter(|d| d.is_finite())
        .collect()
}

/// Score a class against its reference.
///
/// *Shape*: one entry a recording, any order; entries without bursts are welcome and said to be so.
/// `u_reference` is the relative standard uncertainty of the reference curve; 0 when it defines the
/// truth, as with a blind sample made up by the teacher.
///
/// *Errors*: [`ClassError`], each case named there. What the data cannot carry is not an error but a
/// `None` or a [`PrecisionRefusal`].
///
/// *Source*: ISO 13528:2022, 9.4 (z) and 9.6 (zeta); ISO 5725-2:2019 for the precision. *Cost*: cubic in
/// the number of bursts.
pub fn score_class(
    entries: &[Entry],
    u_reference: f64,
    scale: Scale,
) -> Result<ClassResult, ClassError> {
    check(entries, u_reference, scale)?;
    let people = gather(entries);
    let precision = precision::find_precision(&people);
    let spread = precision::consistency(&people);
    let names_of_several = names_with(&people, |p| p.len() > 1);
    let students = people
        .iter()
        .zip(spread)
        .map(|(person, (h, k))| {
            let mut result = score_person(person, u_reference, scale, precision.as_ref().ok());
            if names_of_several.contains(&person.name) {
                result.label = format!("{} ({})", person.name, person.key);
            }
            StudentResult { h, k, ..result }
        })
        .collect();
    Ok(ClassResult {
        students,
        precision,
        names_to_check: names_with(&people, |p| p.iter().any(|p| p.is_doubtful)),
        names_of_several,
    })
}

/// One student's whole curve against the reference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurveScore {
    /// Flow and exponent against the reference, with their words.
    pub comparison: CurveComparison,
    /// Difference of flow over its doubt.
    pub z_flow: f64,
    /// Difference of exponent over its doubt.
    pub z_exponent: f64,
}

/// Hold a student's curve against the reference.
///
/// `calibration` says whether both were measured at one bench with one calibration.
///
/// *Errors*: as [`compare_curves`].
pub fn score_curve(
    student: &NozzleCurve,
    reference: &NozzleCurve,
    calibration: Calibration,
) -> Result<CurveScore, CompareError> {
    let comparison = compare_curves(reference, student, calibration, &Margins::default())?;
    let score = |e: &Estimate| {
        let u = e.u_combined();
        if u > 0.0 { e.value / u } else { 0.0 }
    };
    Ok(CurveScore {
        z_flow: score(&comparison.flow.ln_ratio),
        z_exponent: score(&comparison.exponent_difference),
        comparison,
    })
}

/// One student with all their bursts, each with its bench.
struct Person {
    name: String,
    /// Roster number, or the name where there is none.
    key: String,
    recordings: Vec<String>,
    bursts: Vec<(Option<String>, f64)>,
    /// No roster number, and more than one recording.
    is_doubtful: bool,
}

impl Person {
    fn values(&self) -> Vec<f64> {
        self.bursts.iter().map(|b| b.1).collect()
    }
}

fn check(entries: &[Entry], u_reference: f64, scale: Scale) -> Result<(), ClassError> {
    if entries.is_empty() {
        return Err(ClassError::Empty);
    }
    for entry in entries {
        if let Some(i) = entry.deviations.iter().position(|d| !d.is_finite()) {
            return Err(ClassError::NotFinite {
                recording: entry.recording.clone(),
                burst_number: i + 1,
                deviation: entry.deviations[i],
            });
        }
    }
    if !(u_reference.is_finite() && u_reference >= 0.0) {
        return Err(ClassError::BadNumber {
            what: "the reference's uncertainty",
            value: u_reference,
            needed: "of zero or above",
        });
    }
    match scale {
        Scale::Stated(value) if !(value.is_finite() && value > 0.0) => Err(ClassError::BadNumber {
            what: "the stated standard deviation",
            value,
            needed: "above zero",
        }),
        _ => Ok(()),
    }
}

/// Entries of one student together, in order of the first.
fn gather(entries: &[Entry]) -> Vec<Person> {
    let mut people: Vec<Person> = Vec::new();
    let mut place: BTreeMap<(String, Option<String>), usize> = BTreeMap::new();
    for entry in entries {
        let name = entry.student.trim().to_owned();
        let id = entry.roster_id.as_ref().map(|id| id.trim().to_owned());
        // A roster number is the identity; without one the name has to do.
        let identity = match &id {
            Some(id) => (String::new(), Some(id.clone())),
            None => (name.to_lowercase(), None),
        };
        let index = *place.entry(identity).or_insert_with(|| {
            people.push(Person {
                key: id.clone().unwrap_or_else(|| name.clone()),
                name: name.clone(),
                recordings: Vec::new(),
                bursts: Vec::new(),
                is_doubtful: false,
            });
            people.len() - 1
        });
        let person = &mut people[index];
        person.is_doubtful |= id.is_none() && !person.recordings.is_empty();
        person.recordings.push(entry.recording.clone());
        let bursts = entry.deviations.iter().map(|d| (entry.bench.clone(), *d));
        person.bursts.extend(bursts);
    }
    people
}

/// Names whose bearers satisfy something, sorted.
fn names_with(people: &[Person], is_such: impl Fn(&[&Person]) -> bool) -> Vec<String> {
    let mut by_name: BTreeMap<&str, Vec<&Person>> = BTreeMap::new();
    for person in people {
        by_name.entry(&person.name).or_default().push(person);
    }
    let such = by_name.into_iter().filter(|(_, bearers)| is_such(bearers));
    such.map(|(name, _)| name.to_owned()).collect()
}

fn score_person(
    person: &Person,
    u_reference: f64,
    scale: Scale,
    precision: Option<&Precision>,
) -> StudentResult {
    let n_bursts = person.bursts.len();
    let standing = match n_bursts {
        0 => Standing::NoData,
        1 => Standing::OneBurst,
        _ => Standing::Complete,
    };
    let n = n_bursts as f64;
    let deviation = (n_bursts > 0).then(|| person.values().iter().sum::<f64>() / n);
    let mean = deviation.zip(precision).map(|(d, p)| {
        Estimate::new(d, p.repeatability_sd.value / n.sqrt(), u_reference)
            .with_dof(p.repeatability_dof)
    });
    let sd = match scale {
        Scale::Stated(sd) => Some(sd),
        Scale::Class => precision.map(|p| p.sd_of_mean(n_bursts)),
    };
    let over = |d: f64, by: f64| (by > 0.0).then(|| d / by);
    let z = deviation.zip(sd).and_then(|(d, sd)| over(d, sd));
    StudentResult {
        label: person.name.clone(),
        recordings: person.recordings.clone(),
        n_bursts,
        standing,
        mean,
        deviation,
        z,
        word: z.and_then(ScoreWord::of),
        zeta: mean.and_then(|m| over(m.value, m.u_combined())),
        h: None,
        k: None,
    }
}

#[cfg(test)]
mod tests;
