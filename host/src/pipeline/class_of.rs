//! A class: the findings of its recordings and its roster to one value for pages and JSON.
//!
//! 1. The setting that counts: as the roster says, or what most recordings hold.
//! 2. Each recording's points of that setting, or why it is set aside ([`trials`]).
//! 3. The reference: a named recording, or the robust consensus of the class's own curves.
//! 4. Deviations, scores and precision ([`crate::analysis::class`]).
//!
//! No formulas beyond ratios; no wording.

mod notices;
mod trials;

use crate::analysis::class::consensus::{LEAST_CURVES, find_consensus};
use crate::analysis::class::robust::algorithm_a;
use crate::analysis::class::{Entry, PrecisionRefusal, Scale, deviations_from, score_class};
use crate::analysis::nozzle_curve::NozzleCurve;
use crate::class_findings::{
    Aside, ClassFindings, ClassScale, ClassSetting, Exercise, Reference, ReferenceRefusal,
    ReferenceSource, Student, StudentRecording, Trial,
};
use crate::findings::Findings;
use crate::recording::roster::{self, Roster};

/// What was read of one recording: its findings, or why not.
pub type Read = Result<Findings, String>;

/// Fewest students whose scatter is a scale for z: below, the class's own standard deviation is known to a
/// factor of two at best, and a score would be read as more than it is (common practice, no source).
pub const LEAST_STUDENTS_FOR_SCALE: usize = 5;
/// Flow further than this factor from the reference is no reading of the same quantity: units, meter
/// constant or tip are in question. A tip two sizes off passes a third more; a unit mixed up is a factor
/// of three or more.
pub const OFF_SCALE_FACTOR: f64 = 1.8;

/// Judges a class.
///
/// *Shape*: one `Read` an entry of the roster, in its order; `reference` is what was read of the recording
/// that the roster names, `None` for a consensus.
#[must_use]
pub fn judge_class(
    roster: &Roster,
    reads: &[Read],
    reference: Option<(&str, &Read)>,
) -> ClassFindings {
    let named = reference.and_then(|(_, read)| read.as_ref().ok());
    let setting = trials::choose_setting(roster, reads, named);
    let mut sheets: Vec<Result<Trial, Aside>> = reads
        .iter()
        .map(|read| match &setting {
            Some(setting) => trials::trial_of(read, setting),
            None => Err(trials::without_setting(read)),
        })
        .collect();
    let reference = match (&setting, reference) {
        (None, _) => Err(ReferenceRefusal::NoSetting),
        (Some(setting), Some((name, read))) => named_reference(name, read, setting),
        (Some(_), None) => consensus(&sheets),
    };
    if let Ok(reference) = &reference {
        for sheet in &mut sheets {
            hold_against(sheet, &reference.curve);
        }
    }
    let notices = notices::notices(roster, reads, named, &sheets);
    let people = people(roster);
    let scored = score(roster, &sheets, &people, &reference);
    let students = people
        .iter()
        .enumerate()
        .map(|(i, person)| student(roster, person, &sheets, scored.results.get(i)))
        .collect();
    let mut all: Vec<&Findings> = reads.iter().flatten().collect();
    all.extend(named);
    ClassFindings {
        title: roster.title.clone(),
        dates: notices::dates(&all),
        is_simulated: all.iter().any(|f| f.is_simulated),
        is_blind: false,
        setting,
        reference: scored.error.map_or(reference, Err),
        scale: scored.scale,
        precision: scored.precision,
        students,
        notices,
    }
}

/// One student: label and the positions of their entries in the roster.
struct Person {
    label: String,
    entries: Vec<usize>,
}

/// Students in the order of the roster; a name that several bear gets its number.
fn people(roster: &Roster) -> Vec<Person> {
    let identity = |e: &roster::Entry| {
        e.number()
            .map_or_else(|| e.name.trim().to_lowercase(), str::to_owned)
    };
    let mut out: Vec<(String, Person)> = Vec::new();
    for (i, entry) in roster.students.iter().enumerate() {
        let key = identity(entry);
        match out.iter_mut().find(|(k, _)| *k == key) {
            Some((_, person)) => person.entries.push(i),
            None => {
                let name = entry.name.trim();
                let has_namesake = roster
                    .students
                    .iter()
                    .any(|o| o.name.trim().eq_ignore_ascii_case(name) && identity(o) != key);
                let label = match entry.number() {
                    Some(number) if has_namesake => format!("{name} ({number})"),
                    _ => name.to_owned(),
                };
                let entries = vec![i];
                out.push((key, Person { label, entries }));
            }
        }
    }
    out.into_iter().map(|(_, person)| person).collect()
}

fn named_reference(
    name: &str,
    read: &Read,
    setting: &ClassSetting,
) -> Result<Reference, ReferenceRefusal> {
    let name = name.to_owned();
    if let Err(message) = read {
        let message = message.clone();
        return Err(ReferenceRefusal::Unreadable { name, message });
    }
    let curve = trials::trial_of(read, setting)
        .ok()
        .and_then(|t| t.curve.ok());
    let Some(curve) = curve else {
        return Err(ReferenceRefusal::NoCurve { name });
    };
    let q = curve.power_law.q_ref_m3_per_s;
    Ok(Reference {
        u_ratio: q.u_combined() / q.value,
        source: ReferenceSource::Recording { name },
        curve,
    })
}

fn consensus(sheets: &[Result<Trial, Aside>]) -> Result<Reference, ReferenceRefusal> {
    let curves: Vec<&NozzleCurve> = sheets
        .iter()
        .flatten()
        .filter_map(|t| t.curve.as_ref().ok())
        .collect();
    let found = find_consensus(&curves).ok_or(ReferenceRefusal::TooFewCurves {
        n_curves: curves.len(),
        needed: LEAST_CURVES,
    })?;
    Ok(Reference {
        u_ratio: found.ln_flow.u_mean(),
        source: ReferenceSource::Consensus {
            ln_flow: found.ln_flow,
        },
        curve: found.curve,
    })
}

/// Adds what the reference says to a trial, or sets the trial aside when it is off all scale.
fn hold_against(sheet: &mut Result<Trial, Aside>, reference: &NozzleCurve) {
    let Ok(trial) = sheet else { return };
    let deviations = deviations_from(&trial.points, reference);
    let mean = deviations.iter().sum::<f64>() / (deviations.len().max(1) as f64);
    if mean.abs() > OFF_SCALE_FACTOR.ln() {
        *sheet = Err(Aside::OffScale {
            flow_ratio: mean.exp(),
        });
        return;
    }
    trial.reference_m3_per_s = trial
        .points
        .iter()
        .map(|p| reference.flow_at(p.pressure_pa.value).value)
        .collect();
    trial.score = trials::score(trial, reference);
}

/// What scoring gives.
struct Scored {
    results: Vec<crate::analysis::class::StudentResult>,
    precision: Result<crate::analysis::class::Precision, PrecisionRefusal>,
    scale: Option<ClassScale>,
    error: Option<ReferenceRefusal>,
}

fn score(
    roster: &Roster,
    sheets: &[Result<Trial, Aside>],
    people: &[Person],
    reference: &Result<Reference, ReferenceRefusal>,
) -> Scored {
    let nothing = |error| Scored {
        results: Vec::new(),
        precision: Err(PrecisionRefusal::OneStudent),
        scale: None,
        error,
    };
    let Ok(reference) = reference else {
        return nothing(None);
    };
    let entries: Vec<Entry> = people
        .iter()
        .enumerate()
        .flat_map(|(i, person)| person.entries.iter().map(move |e| (i, *e)))
        .map(|(person, e)| Entry {
            student: people[person].label.clone(),
            roster_id: Some(person.to_string()),
            bench: roster.students[e].bench.clone(),
            recording: roster.students[e].recording.clone(),
            deviations: sheets[e].as_ref().map_or_else(
                |_| Vec::new(),
                |t| deviations_from(&t.points, &reference.curve),
            ),
        })
        .collect();
    let scale = choose_scale(roster, &entries, people.len());
    let asked = scale.map_or(Scale::Class, |s| Scale::Stated(s.sd_ratio));
    match score_class(&entries, reference.u_ratio, asked) {
        Ok(found) => {
            let mut results = found.students;
            if scale.is_none() {
                for result in &mut results {
                    (result.z, result.word) = (None, None);
                }
            }
            Scored {
                results,
                precision: found.precision,
                scale,
                error: None,
            }
        }
        Err(e) => nothing(Some(ReferenceRefusal::Unscored(e))),
    }
}

/// The stated scale, or the robust scatter of enough students' means.
fn choose_scale(roster: &Roster, entries: &[Entry], n_people: usize) -> Option<ClassScale> {
    if let Some(pct) = roster.expected_sd_pct {
        return Some(ClassScale {
            sd_ratio: pct / 100.0,
            is_stated: true,
        });
    }
    let means: Vec<f64> = (0..n_people)
        .filter_map(|i| {
            let id = i.to_string();
            let own: Vec<f64> = entries
                .iter()
                .filter(|e| e.roster_id.as_ref() == Some(&id))
                .flat_map(|e| e.deviations.iter().copied())
                .collect();
            (!own.is_empty()).then(|| own.iter().sum::<f64>() / own.len() as f64)
        })
        .collect();
    if means.len() < LEAST_STUDENTS_FOR_SCALE {
        return None;
    }
    let robust = algorithm_a(&means).filter(|r| r.sd > 0.0)?;
    Some(ClassScale {
        sd_ratio: robust.sd,
        is_stated: false,
    })
}

fn student(
    roster: &Roster,
    person: &Person,
    sheets: &[Result<Trial, Aside>],
    result: Option<&crate::analysis::class::StudentResult>,
) -> Student {
    let recordings: Vec<StudentRecording> = person
        .entries
        .iter()
        .map(|i| StudentRecording {
            name: roster.students[*i].recording.clone(),
            bench: roster.students[*i].bench.clone(),
            trial: sheets[*i].clone(),
        })
        .collect();
    Student {
        label: person.label.clone(),
        result: result.cloned(),
        exercise: exercise(&recordings),
        recordings,
    }
}

/// The lowest and the highest burst of the first recording that has two pressures far enough apart.
fn exercise(recordings: &[StudentRecording]) -> Option<Exercise> {
    /// Below this ratio of pressures the quotient of two logarithms says nothing.
    const LEAST_RATIO: f64 = 1.25;
    recordings
        .iter()
        .enumerate()
        .find_map(|(recording_index, r)| {
            let points = &r.trial.as_ref().ok()?.points;
            let by = |a: &usize, b: &usize| {
                let (a, b) = (points[*a].pressure_pa.value, points[*b].pressure_pa.value);
                a.total_cmp(&b)
            };
            let low_index = (0..points.len()).min_by(by)?;
            let high_index = (0..points.len()).max_by(by)?;
            let (low, high) = (&points[low_index], &points[high_index]);
            let ratio = high.pressure_pa.value / low.pressure_pa.value;
            let exponent = (high.flow_m3_per_s.value / low.flow_m3_per_s.value).ln() / ratio.ln();
            (ratio >= LEAST_RATIO && exponent.is_finite()).then_some(Exercise {
                recording_index,
                low_index,
                high_index,
                exponent,
                doubling_ratio: 2f64.powf(exponent),
            })
        })
}

/// The class with codes for names: codes in the order of `codes`, one a student; benches and folders are not
/// told. Students are put in the order of their codes.
#[must_use]
pub fn blinded(mut class: ClassFindings, codes: &[String]) -> ClassFindings {
    let names: Vec<String> = class.students.iter().map(|s| s.label.clone()).collect();
    for (student, code) in class.students.iter_mut().zip(codes) {
        student.label.clone_from(code);
        if let Some(result) = &mut student.result {
            result.label.clone_from(code);
            result.recordings.clear();
        }
        for recording in &mut student.recordings {
            recording.name.clone_from(code);
            recording.bench = None;
            if let Err(Aside::Unreadable { message }) = &mut recording.trial {
                // The system's words hold the folder's name, which may be the student's.
                "it cannot be read".clone_into(message);
            }
        }
    }
    class.students.sort_by(|a, b| a.label.cmp(&b.label));
    notices::blind(&mut class.notices, &names, codes);
    if let Ok(Reference {
        source: ReferenceSource::Recording { name },
        ..
    }) = &mut class.reference
    {
        "the named recording".clone_into(name);
    }
    class.is_blind = true;
    class
}

#[cfg(test)]
pub(crate) mod tests;
