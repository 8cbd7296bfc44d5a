//! Exclusions of bursts and defects of the recording in words.

use super::super::number::{Kind, Show};
use super::super::piece::{Sentence, say};
use super::humanise;
use crate::analysis::health::DefectKind;
use crate::analysis::steady::Exclusion;

/// Why a burst is not used in fits; `key` points to its `exclusion` in the JSON.
pub(crate) fn exclusion(show: Show, exclusion: &Exclusion, key: &str) -> Sentence {
    let at = |member: &str| format!("{key}/{member}");
    match exclusion {
        Exclusion::TooShort { steady_s, needed_s } => say![
            "too short: steady for ",
            show.plain(Kind::Time, *steady_s, at("steady_s")),
            ", ",
            show.plain(Kind::Time, *needed_s, at("needed_s")),
            " needed"
        ],
        Exclusion::NotSteady { drift_ratio } => say![
            "not steady: pressure drifts by ",
            show.plain(Kind::Percent, *drift_ratio, at("drift_ratio"))
        ],
        Exclusion::TooFewEdges { n_edges } => say![
            "too few meter pulses for a flow: ",
            count(show, *n_edges, at("n_edges"))
        ],
        Exclusion::Gap { from_s } => say![
            "samples were lost at ",
            show.plain(Kind::Time, *from_s, at("from_s"))
        ],
        Exclusion::Health { code } => say!["readings not sound: ", humanise(code)],
        Exclusion::Sync => Sentence::from("sync pull"),
        Exclusion::NoNote => Sentence::from("no note says what was sprayed"),
        Exclusion::AmbiguousNote => Sentence::from("its note may belong to another burst"),
        Exclusion::NotNoted => Sentence::from("test pull without a note"),
    }
}

/// A count as a number with its place.
pub(crate) fn count(show: Show, n: usize, key: impl Into<String>) -> Sentence {
    #[allow(clippy::cast_precision_loss)]
    let value = n as f64;
    show.fixed(Kind::Count, value, 0, key)
}

/// Name of a defect.
pub(crate) const fn defect_name(kind: DefectKind) -> &'static str {
    match kind {
        DefectKind::PressureSaturated => "Pressure at the top of its range",
        DefectKind::PressureBeyondSensor => "Pressure beyond its sensor",
        DefectKind::PressureStuck => "Pressure stuck",
        DefectKind::PressureScaleChanged => "Pressure changes scale",
        DefectKind::Gap => "Samples lost",
        DefectKind::EdgeBounce => "Meter pulses doubled",
        DefectKind::ZeroDrift => "Zero drifted",
        DefectKind::ZeroUnknown => "Zero not known",
        DefectKind::ClockJump => "Clock jumped",
        DefectKind::DeviceRestart => "Logger restarted",
        DefectKind::SampleRate => "Sample rate off",
        DefectKind::SupplyBrownOut => "Logger's supply too low",
        DefectKind::NominalMeter => "Meter not calibrated",
        DefectKind::MeterDisagreesWithCatch => "Meter and catch disagree",
        DefectKind::FlowMissing => "Flow missing",
        DefectKind::FlowImplausible => "Flow beyond its tip",
    }
}

/// What a defect's magnitude is.
pub(crate) const fn defect_magnitude(kind: DefectKind) -> Option<Kind> {
    match kind {
        DefectKind::PressureSaturated
        | DefectKind::PressureBeyondSensor
        | DefectKind::PressureStuck
        | DefectKind::ZeroDrift
        | DefectKind::ZeroUnknown => Some(Kind::Pressure),
        DefectKind::Gap | DefectKind::ClockJump => Some(Kind::Time),
        DefectKind::SampleRate | DefectKind::NominalMeter | DefectKind::MeterDisagreesWithCatch => {
            Some(Kind::Percent)
        }
        DefectKind::SupplyBrownOut => Some(Kind::Voltage),
        DefectKind::PressureScaleChanged | DefectKind::FlowImplausible => Some(Kind::Plain),
        DefectKind::EdgeBounce | DefectKind::DeviceRestart | DefectKind::FlowMissing => None,
    }
}
