//! What can be wrong in the examples: refusals, defects, bursts that are not used.

use tipcurve::analysis::health::{Defect, DefectKind};
use tipcurve::analysis::nozzle_curve::CurveRefusal;
use tipcurve::analysis::steady::Exclusion;
use tipcurve::analysis::tail_threshold::TailThreshold;
use tipcurve::findings::Findings;
use tipcurve::recording::notes::NoteTime;

use super::BAR;

/// Gives the last groups one refusal each.
pub(super) fn refuse(f: &mut Findings) {
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

pub(super) fn every_defect() -> Vec<Defect> {
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
pub(super) fn exclude(f: &mut Findings) {
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
