//! The next trial as a sentence.

use super::super::number::Kind;
use super::super::piece::{Sentence, say};
use super::Subject;
use crate::analysis::verdict::NextTrial;

/// The trial that would settle or sharpen the verdict.
pub(crate) fn next_trial(s: &Subject, trial: &NextTrial) -> Sentence {
    let pressure = |pa: f64| s.show.setting(pa, None, s.key("next_trial/pressure_pa"));
    match *trial {
        NextTrial::BurstAtPressure { pressure_pa } => say![
            "One burst of five seconds near ",
            pressure(pressure_pa),
            ", with its tail grade."
        ],
        NextTrial::BurstAtFullDial => Sentence::from(
            "Two bursts of five seconds with the control at its highest position, tails graded; wait between them \
             until the pump stalls.",
        ),
        NextTrial::OtherTipAtFullDial { smaller: true } => Sentence::from(
            "One burst with a smaller orifice and the same fan, control at its highest position, tails \
             graded. If the tails go, the pump was the limit; if they grow, the coating was.",
        ),
        NextTrial::OtherTipAtFullDial { smaller: false } => Sentence::from(
            "One burst with a larger orifice and the same fan, control at its highest position, tails graded.",
        ),
        NextTrial::GradeTails => Sentence::from(
            "Grade the tails of each burst: none, faint, clear or heavy, from low pressure to high.",
        ),
        NextTrial::RecordWithSoundSensor => Sentence::from(
            "The same bursts again with a sensor that works and whose range lies above the rig's greatest \
             pressure.",
        ),
        NextTrial::RecordInOneUnit => {
            Sentence::from("The same bursts again, with one pressure unit from start to end.")
        }
        NextTrial::TimeTheNotes => Sentence::from(
            "Record again and write tip and time with each note; begin with three short pulls and the note \
             \u{201c}sync\u{201d}.",
        ),
        NextTrial::RepeatAfterCleaning => Sentence::from(
            "Clean, then repeat one burst at the same control position: the flow should come back.",
        ),
        NextTrial::RepeatWithFullBattery => {
            Sentence::from("Repeat two bursts at the highest position with a full battery.")
        }
        NextTrial::RepeatWithNewTip => say![
            "Repeat the same pressures with a new tip of the same code",
            same_code(s),
            "."
        ],
        NextTrial::RepeatAtTemperature { temperature_k } => say![
            "Repeat the bursts with the coating at ",
            s.show.plain(
                Kind::Temperature,
                temperature_k,
                s.key("next_trial/temperature_k")
            ),
            "."
        ],
        NextTrial::ConfirmRecommended { pressure_pa } => say![
            "One burst at ",
            // Rounded as the pressure to set is: never up and out of the window.
            s.show.setting(
                pressure_pa,
                s.group.window.as_ref().map(|w| w.upper_pa),
                s.key("next_trial/pressure_pa"),
            ),
            " on scrap board: both edges should fade out evenly."
        ],
    }
}

fn same_code(s: &Subject) -> Sentence {
    match s.group.group.tip.as_str() {
        "" => Sentence::default(),
        code => say![" (", super::super::piece::quoted(code), ")"],
    }
}
