//! Why recordings do not belong together in one plan, in words.

use thiserror::Error;

/// Why recordings do not make a plan at all.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum BoxError {
    /// Nothing was given.
    #[error("no recording was given")]
    NoRecording,
    /// Two rigs.
    #[error(
        "{first} is about \u{201c}{first_rig}\u{201d} and {second} about \u{201c}{second_rig}\u{201d}: one rig's pump \
         says nothing of another's; plan from the recordings of one rig"
    )]
    OtherRig {
        /// A recording.
        first: String,
        /// Its rig.
        first_rig: String,
        /// Another.
        second: String,
        /// Its rig.
        second_rig: String,
    },
    /// The pressure was taken at two places.
    #[error(
        "{first} and {second} take the pressure at different places (pump outlet and gun inlet), and the hose \
         lies between; plan from recordings with one tap"
    )]
    OtherTap {
        /// A recording.
        first: String,
        /// Another.
        second: String,
    },
    /// Measured and made up.
    #[error(
        "{simulated} was made by the simulated rig and {measured} is a measurement: they say nothing about each \
         other"
    )]
    SimulatedAndMeasured {
        /// The simulated one.
        simulated: String,
        /// The measured one.
        measured: String,
    },
    /// No burst could be given to a tip and a coating.
    #[error(
        "{names}: no burst could be given to a tip and a coating, so there is nothing to plan from; write tip and \
         coating with each note and record again"
    )]
    NoGroup {
        /// The recordings.
        names: String,
    },
    /// A coating that was never measured.
    #[error("coating \u{201c}{asked}\u{201d} was not measured here; measured: {measured}")]
    NoSuchCoating {
        /// As asked.
        asked: String,
        /// What was.
        measured: String,
    },
    /// The thinner asked for was never measured.
    #[error(
        "{material} was not measured with {asked_pct} % thinner; measured with: {measured}. Thinner changes curve and \
         tails alike, and neither is guessed"
    )]
    NoSuchThinner {
        /// Coating.
        material: String,
        /// As asked, percent.
        asked_pct: String,
        /// What was, percent.
        measured: String,
    },
    /// A control position at which nothing was measured.
    #[error(
        "no supply curve at control position \u{201c}{asked}\u{201d}; positions with one: {known}"
    )]
    NoSuchDial {
        /// As asked.
        asked: String,
        /// Positions there are.
        known: String,
    },
}
