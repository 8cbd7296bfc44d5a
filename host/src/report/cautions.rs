//! The cautions of the work, and which one stands beside which advice.
//!
//! Airless pressure injects fluid through skin; solvents burn and their vapour is breathed. A caution is
//! repeated wherever advice sends hands near the tip, the filter or the inlet, or towards thinner or
//! heat. Nothing here replaces a coating's data sheet, a pump maker's manual, local codes or licensed practice,
//! and the words say so. No numbers.

use crate::analysis::verdict::{Advice, NextTrial};

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Caution {
    /// Hands go near tip, guard or gun filter.
    HandsAtTip,
    /// Hands go near the pump's inlet or inside the pump.
    HandsAtPump,
    /// Hands go near the pressure sensor or its port.
    HandsAtSensor,
    /// Thinner is added.
    Thinning,
    /// The coating is warmed.
    Warming,
    /// Pressure goes up, or a stronger pump comes in.
    Rating,
    /// Batteries are charged or swapped.
    Battery,
    /// The coating is opened, poured and strained.
    Vapour,
}

impl Caution {
    /// What is said beside the advice.
    pub(crate) const fn text(self) -> &'static str {
        match self {
            Self::HandsAtTip => {
                "Before a hand goes near the tip: stop the pump, relieve the pressure, lock the trigger. Never \
                 put a hand, finger or rag in front of the tip. A reading of zero does not prove that the \
                 line is safe."
            }
            Self::HandsAtPump => {
                "First switch off and unplug the pump or take out the battery, relieve the pressure, lock the \
                 trigger. Work inside the pump belongs to its manual and to trained hands."
            }
            Self::HandsAtSensor => {
                "Relieve the pressure and lock the trigger before touching the sensor or its port. A dead \
                 sensor or a blocked port reads zero on a line that is not safe. Never drill a rig to fit a port."
            }
            Self::Thinning => {
                "Read the data sheet first: only the thinner it names, never more than the label allows. \
                 Thinner burns: no flame, spark or cigarette, ground pump and pail, open the doors, wear \
                 the mask the data sheet asks for."
            }
            Self::Warming => {
                "Read the data sheet first and stay within the label's temperature. Never warm with an open flame \
                 or on a hot plate, never in a closed tin: a warm room or a water bath, away from anything \
                 that sparks."
            }
            Self::Rating => {
                "Never above the lowest rated working pressure of pump, hose, gun and fittings. More pressure \
                 does not cure this; it injects deeper and wears faster."
            }
            Self::Battery => {
                "Swap and charge away from solvent vapour, with the maker's own charger. Relieve the \
                 pressure first: a pump without power still holds it."
            }
            Self::Vapour => {
                "Open and strain where air moves and nothing sparks. Wear eye protection and the mask the data sheet \
                 asks for."
            }
        }
    }
}

/// The caution that belongs beside a piece of advice, where there is one.
pub(crate) const fn beside_advice(advice: Advice) -> Option<Caution> {
    match advice {
        Advice::SmallerTip
        | Advice::LargerTip
        | Advice::SmallerOrificeSameFan
        | Advice::LargerOrificeSameFan
        | Advice::WiderFan
        | Advice::NarrowerFan
        | Advice::CleanTip
        | Advice::ReplaceTip => Some(Caution::HandsAtTip),
        Advice::CleanInletStrainer | Advice::ServicePump => Some(Caution::HandsAtPump),
        Advice::ThinMaterial => Some(Caution::Thinning),
        Advice::WarmMaterial => Some(Caution::Warming),
        Advice::RaisePressure | Advice::LargerPump => Some(Caution::Rating),
        Advice::ChargeBattery => Some(Caution::Battery),
        Advice::StrainMaterial => Some(Caution::Vapour),
        Advice::CheckSensor => Some(Caution::HandsAtSensor),
        Advice::Keep
        | Advice::LowerPressure
        | Advice::FasterPass
        | Advice::SecondPass
        | Advice::LessThinner
        | Advice::CollectMoreData
        | Advice::CheckUnits
        | Advice::FixNotes => None,
    }
}

/// The caution that belongs beside the next trial, where there is one.
pub(crate) const fn beside_trial(trial: &NextTrial) -> Option<Caution> {
    match trial {
        NextTrial::OtherTipAtFullDial { .. }
        | NextTrial::RepeatAfterCleaning
        | NextTrial::RepeatWithNewTip => Some(Caution::HandsAtTip),
        NextTrial::BurstAtFullDial | NextTrial::BurstAtPressure { .. } => Some(Caution::Rating),
        NextTrial::RecordWithSoundSensor => Some(Caution::HandsAtSensor),
        NextTrial::RepeatWithFullBattery => Some(Caution::Battery),
        NextTrial::RepeatAtTemperature { .. } => Some(Caution::Warming),
        NextTrial::GradeTails
        | NextTrial::RecordInOneUnit
        | NextTrial::TimeTheNotes
        | NextTrial::ConfirmRecommended { .. } => None,
    }
}

/// What every page and card says, whatever the verdict: a heading and its sentence.
pub(crate) const ALWAYS: &[(&str, &str)] = &[
    (
        "Injection",
        "Airless pressure drives paint through skin and gloves. It may look like a small cut and hardly hurt. It \
         is a surgical emergency: go to hospital at once, say \u{201c}high-pressure injection\u{201d}, take the \
         data sheet along.",
    ),
    (
        "Pressure",
        "Relieve the pressure and lock the trigger before touching tip, filter or sensor, and whenever you stop. A \
         zero reading may be a blocked port or a dead sensor. Every part's rating must exceed the rig's \
         greatest pressure with margin.",
    ),
    (
        "Fire",
        "Vapour of solvents burns. Ground pump and pail, ventilate, keep unrated electronics, this logger included, \
         away from flammable material.",
    ),
    (
        "Lungs and eyes",
        "Breathing and eye protection as the data sheet says.",
    ),
    (
        "Who decides",
        "The coating's data sheet, the pump maker's manual, local codes and licensed practice come before \
         anything on this page.",
    ),
];

/// The one sentence for places where there is room for one.
pub(crate) const SHORT: &str = "Paint injected through skin is a surgical emergency even if it looks like a cut. Relieve \
     pressure and lock the trigger before touching the tip. A zero reading does not prove that the line is safe. \
     Data sheet, pump manual, local codes and licensed practice come first.";

#[cfg(test)]
mod tests {
    use super::*;

    /// Every advice that brings a hand near high pressure, thinner or heat has its caution.
    #[test]
    fn advice_that_can_hurt_is_never_without_its_caution() {
        for (advice, caution) in [
            (Advice::CleanTip, Caution::HandsAtTip),
            (Advice::ReplaceTip, Caution::HandsAtTip),
            (Advice::SmallerTip, Caution::HandsAtTip),
            (Advice::NarrowerFan, Caution::HandsAtTip),
            (Advice::CleanInletStrainer, Caution::HandsAtPump),
            (Advice::ThinMaterial, Caution::Thinning),
            (Advice::WarmMaterial, Caution::Warming),
            (Advice::RaisePressure, Caution::Rating),
            (Advice::CheckSensor, Caution::HandsAtSensor),
        ] {
            assert_eq!(beside_advice(advice), Some(caution), "{advice:?}");
        }
        assert!(
            Caution::Thinning
                .text()
                .contains("never more than the label")
        );
        assert!(
            Caution::Warming
                .text()
                .contains("Never warm with an open flame")
        );
        assert!(Caution::HandsAtTip.text().contains("lock the trigger"));
        assert!(
            Caution::Rating
                .text()
                .contains("Never above the lowest rated")
        );
    }
}
