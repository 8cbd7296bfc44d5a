//! What must be known before a class's numbers are read: rigs, meters and temperatures that differ.

use super::Read;
use crate::class_findings::{Aside, ClassNotice, Trial};
use crate::findings::Findings;
use crate::recording::roster::Roster;

/// Coating temperatures further apart than this are named, K: half of what parts two groups, since a few
/// kelvin change an exponent of 0.6 by about a percent of flow each.
const TEMPERATURE_APART_K: f64 = 2.0;
/// Meter constants that differ by less are one.
const SAME_CONSTANT_RATIO: f64 = 1e-3;

pub(super) fn notices(
    roster: &Roster,
    reads: &[Read],
    reference: Option<&Findings>,
    sheets: &[Result<Trial, Aside>],
) -> Vec<ClassNotice> {
    let all: Vec<&Findings> = reads.iter().flatten().chain(reference).collect();
    let used: Vec<&Findings> = reads
        .iter()
        .zip(sheets)
        .filter(|(_, sheet)| sheet.is_ok())
        .filter_map(|(read, _)| read.as_ref().ok())
        .collect();
    let mut out = Vec::new();
    if all.iter().any(|f| f.is_simulated) {
        out.push(ClassNotice::Simulated);
    }
    let mut names: Vec<&str> = roster
        .students
        .iter()
        .zip(sheets)
        .filter(|(_, s)| s.is_ok())
        .map(|(e, _)| e.number().unwrap_or(e.name.trim()))
        .collect();
    names.sort_unstable();
    names.dedup();
    if names.len() < 2 {
        out.push(ClassNotice::OneStudent);
    }
    out.extend(rigs(&used));
    out.extend(meters(roster, &used, sheets));
    out.extend(temperatures(&used));
    out.extend(namesakes(roster));
    out
}

fn rigs(used: &[&Findings]) -> Option<ClassNotice> {
    let mut names: Vec<String> = used.iter().filter_map(|f| f.settings.rig.clone()).collect();
    names.sort();
    names.dedup();
    (names.len() > 1).then_some(ClassNotice::Rigs { names })
}

fn meters(
    roster: &Roster,
    used: &[&Findings],
    sheets: &[Result<Trial, Aside>],
) -> Vec<ClassNotice> {
    let mut out = Vec::new();
    let nominal = roster.students.iter().zip(sheets).filter_map(|(e, s)| {
        let trial = s.as_ref().ok()?;
        trial.is_nominal_meter.then(|| e.name.trim().to_owned())
    });
    let labels: Vec<String> = nominal.collect();
    if !labels.is_empty() {
        out.push(ClassNotice::NominalMeters { labels });
    }
    let mut constants: Vec<f64> = used
        .iter()
        .filter_map(|f| f.settings.flow_meter.k_factor_per_m3)
        .collect();
    constants.sort_by(f64::total_cmp);
    constants.dedup_by(|a, b| (*a / *b - 1.0).abs() < SAME_CONSTANT_RATIO);
    if constants.len() > 1 {
        out.push(ClassNotice::Meters {
            n_constants: constants.len(),
        });
    }
    out
}

fn temperatures(used: &[&Findings]) -> Option<ClassNotice> {
    let all = || {
        used.iter()
            .flat_map(|f| &f.groups)
            .filter_map(|g| g.group.material_k)
            .filter(|k| k.is_finite())
    };
    let (low_k, high_k) = (all().reduce(f64::min)?, all().reduce(f64::max)?);
    (high_k - low_k > TEMPERATURE_APART_K).then_some(ClassNotice::Temperatures { low_k, high_k })
}

fn namesakes(roster: &Roster) -> Option<ClassNotice> {
    let is_other = |a: &crate::recording::roster::Entry, b: &crate::recording::roster::Entry| {
        a.name.trim().eq_ignore_ascii_case(b.name.trim()) && a.number() != b.number()
    };
    let mut names: Vec<String> = roster
        .students
        .iter()
        .filter(|e| roster.students.iter().any(|o| is_other(e, o)))
        .map(|e| e.name.trim().to_owned())
        .collect();
    names.sort();
    names.dedup();
    (!names.is_empty()).then_some(ClassNotice::SameNames { names })
}

/// Dates of recordings, ascending, without repeats.
pub(super) fn dates(all: &[&Findings]) -> Vec<String> {
    let mut dates: Vec<String> = all.iter().filter_map(|f| f.settings.date.clone()).collect();
    dates.sort();
    dates.dedup();
    dates
}

/// Takes names out of notices: codes where a code stands for the label, nothing where a name would tell.
pub(super) fn blind(notices: &mut Vec<ClassNotice>, names: &[String], codes: &[String]) {
    notices.retain(|n| !matches!(n, ClassNotice::SameNames { .. }));
    for notice in notices {
        if let ClassNotice::NominalMeters { labels } = notice {
            let mut shown: Vec<String> = names
                .iter()
                .zip(codes)
                // A namesake's label carries the number behind the name.
                .filter(|(name, _)| labels.iter().any(|l| name.starts_with(l.as_str())))
                .map(|(_, code)| code.clone())
                .collect();
            shown.sort();
            *labels = shown;
        }
    }
}
