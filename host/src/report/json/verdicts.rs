//! Verdicts with their evidence, advice and next trial.

use serde::Serialize;

use super::{finite, finite_or_none};
use crate::analysis::verdict::{Advice, NextTrial, VerdictKind};
use crate::findings::Findings;

#[derive(Debug, Serialize)]
pub(crate) struct Verdict {
    group_index: usize,
    is_subject: bool,
    kind: VerdictKind,
    confidence: Option<f64>,
    evidence: Vec<Evidence>,
    advice: Vec<Advice>,
    advice_against: Vec<Advice>,
    next_trial: Option<Trial>,
    because: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Evidence {
    code: String,
    value: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
    threshold: Option<f64>,
}

/// The next trial, flat: `trial` is the word, the numbers it needs stand beside it.
#[derive(Debug, Serialize)]
struct Trial {
    trial: &'static str,
    pressure_pa: Option<f64>,
    temperature_k: Option<f64>,
    smaller: Option<bool>,
}

impl Trial {
    fn new(trial: &NextTrial) -> Self {
        let word = |trial| Self {
            trial,
            pressure_pa: None,
            temperature_k: None,
            smaller: None,
        };
        match *trial {
            NextTrial::BurstAtPressure { pressure_pa } => Self {
                pressure_pa: finite(pressure_pa),
                ..word("burst_at_pressure")
            },
            NextTrial::BurstAtFullDial => word("burst_at_full_dial"),
            NextTrial::OtherTipAtFullDial { smaller } => Self {
                smaller: Some(smaller),
                ..word("other_tip_at_full_dial")
            },
            NextTrial::GradeTails => word("grade_tails"),
            NextTrial::RecordWithSoundSensor => word("record_with_sound_sensor"),
            NextTrial::RecordInOneUnit => word("record_in_one_unit"),
            NextTrial::TimeTheNotes => word("time_the_notes"),
            NextTrial::RepeatAfterCleaning => word("repeat_after_cleaning"),
            NextTrial::RepeatWithFullBattery => word("repeat_with_full_battery"),
            NextTrial::RepeatWithNewTip => word("repeat_with_new_tip"),
            NextTrial::RepeatAtTemperature { temperature_k } => Self {
                temperature_k: finite(temperature_k),
                ..word("repeat_at_temperature")
            },
            NextTrial::ConfirmRecommended { pressure_pa } => Self {
                pressure_pa: finite(pressure_pa),
                ..word("confirm_recommended")
            },
        }
    }
}

/// Verdicts in their order; the first is the main subject.
pub(crate) fn mirror(f: &Findings) -> Vec<Verdict> {
    f.verdicts
        .iter()
        .enumerate()
        .map(|(i, v)| Verdict {
            group_index: v.group_index,
            is_subject: i == 0,
            kind: v.kind,
            confidence: finite(v.confidence),
            evidence: v
                .evidence
                .iter()
                .map(|e| Evidence {
                    code: e.code.clone(),
                    value: finite(e.value),
                    low_95: finite_or_none(e.low),
                    high_95: finite_or_none(e.high),
                    threshold: finite_or_none(e.threshold),
                })
                .collect(),
            advice: v.advice.clone(),
            advice_against: v.advice_against.clone(),
            next_trial: v.next_trial.as_ref().map(Trial::new),
            because: v.because.clone(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The words of the file are those of the enums, so that a test on one is a test on the other.
    #[test]
    fn every_trial_word_is_the_enums_own() {
        for trial in [
            NextTrial::BurstAtPressure { pressure_pa: 1.0 },
            NextTrial::BurstAtFullDial,
            NextTrial::OtherTipAtFullDial { smaller: true },
            NextTrial::GradeTails,
            NextTrial::RecordWithSoundSensor,
            NextTrial::RecordInOneUnit,
            NextTrial::TimeTheNotes,
            NextTrial::RepeatAfterCleaning,
            NextTrial::RepeatWithFullBattery,
            NextTrial::RepeatWithNewTip,
            NextTrial::RepeatAtTemperature { temperature_k: 1.0 },
            NextTrial::ConfirmRecommended { pressure_pa: 1.0 },
        ] {
            let own = serde_json::to_value(&trial).unwrap();
            assert_eq!(own["trial"], Trial::new(&trial).trial, "{trial:?}");
        }
    }
}
