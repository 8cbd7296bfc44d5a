//! What the host may ask of the device, and the answers.

use serde::{Deserialize, Serialize};

use super::open_code;

/// One request. The device answers each with a [`Reply`] or, for the clock, a [`ClockEcho`]
/// with the same `id`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "WireCommand", into = "WireCommand")]
pub struct Command {
    /// Chosen by the host, returned in the answer.
    pub id: u16,
    /// What to do.
    pub action: Action,
}

/// What a command asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// Take samples.
    Start,
    /// Take no more samples. Slow channels, edges and heartbeat go on.
    Stop,
    /// Samples per second from now on.
    SetRate(u32),
    /// Send a hello.
    Identify,
    /// Return `token` with the device's clock.
    EchoClock {
        /// Whatever the host needs to recognise the request, as its own time.
        token: u64,
    },
    /// A request of a later version; answered with [`Outcome::NotKnown`].
    Other {
        /// Code of the request.
        code: u8,
        /// Its argument.
        argument: u64,
    },
}

/// Every command has the same three fields, so that an unknown one can still be answered.
#[derive(Clone, Copy, Serialize, Deserialize)]
struct WireCommand {
    id: u16,
    code: u8,
    argument: u64,
}

impl From<WireCommand> for Command {
    fn from(wire: WireCommand) -> Self {
        let action = match (wire.code, wire.argument) {
            (1, 0) => Action::Start,
            (2, 0) => Action::Stop,
            (3, rate) if u32::try_from(rate).is_ok() => {
                Action::SetRate(u32::try_from(rate).unwrap_or(u32::MAX))
            }
            (4, 0) => Action::Identify,
            (5, token) => Action::EchoClock { token },
            (code, argument) => Action::Other { code, argument },
        };
        Self {
            id: wire.id,
            action,
        }
    }
}

impl From<Command> for WireCommand {
    fn from(command: Command) -> Self {
        let (code, argument) = match command.action {
            Action::Start => (1, 0),
            Action::Stop => (2, 0),
            Action::SetRate(rate_hz) => (3, u64::from(rate_hz)),
            Action::Identify => (4, 0),
            Action::EchoClock { token } => (5, token),
            Action::Other { code, argument } => (code, argument),
        };
        Self {
            id: command.id,
            code,
            argument,
        }
    }
}

/// Answer to a command, with the state after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reply {
    /// The command's `id`.
    pub id: u16,
    /// What became of it.
    pub outcome: Outcome,
    /// Whether samples are being taken.
    pub is_running: bool,
    /// Samples per second.
    pub sample_rate_hz: u16,
}

/// What became of a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "u8", into = "u8")]
pub enum Outcome {
    /// Done, or already so.
    Done,
    /// This firmware does not know the request; nothing changed.
    NotKnown,
    /// The rate is outside the limits of the hello; nothing changed.
    RateOutOfRange,
    /// An outcome of a later version.
    Other(u8),
}

open_code!(Outcome:
    Done = 0,
    NotKnown = 1,
    RateOutOfRange = 2,
);

/// The device's clock at a request of the host.
///
/// With the host's own times of sending and receiving, these four bound the offset of the clocks
/// (as in RFC 5905, section 8).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClockEcho {
    /// The command's `id`.
    pub id: u16,
    /// The command's token.
    pub token: u64,
    /// Device tick at which the request was complete.
    pub received_ticks: u64,
    /// Device tick at which this answer was framed.
    pub sent_ticks: u64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_returns_and_unknown_ones_are_kept() {
        for action in [
            Action::Start,
            Action::Stop,
            Action::SetRate(500),
            Action::SetRate(u32::MAX),
            Action::Identify,
            Action::EchoClock { token: u64::MAX },
            Action::Other {
                code: 77,
                argument: 3,
            },
            Action::Other {
                code: 3,
                argument: 1 << 40,
            },
        ] {
            let command = Command { id: 9, action };
            assert_eq!(Command::from(WireCommand::from(command)), command);
        }
    }
}
