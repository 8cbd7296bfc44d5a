//! A command in, the new state and the answer out. Pure.

use tipcurve_protocol::{Action, Command, Outcome, Reply};

/// What commands can change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) is_running: bool,
    pub(crate) sample_rate_hz: u16,
}

/// The rates a board can sample at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct RateLimits {
    pub(crate) min_hz: u16,
    pub(crate) max_hz: u16,
}

/// What is sent back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Answer {
    Reply(Reply),
    /// A hello, then a reply.
    Hello(Reply),
    /// The clock; the time of sending is filled in when it is sent.
    ClockEcho {
        id: u16,
        token: u64,
    },
}

/// Carries out a command.
pub(crate) fn apply(command: Command, state: State, limits: RateLimits) -> (State, Answer) {
    let after = match command.action {
        Action::Start => State {
            is_running: true,
            ..state
        },
        Action::Stop => State {
            is_running: false,
            ..state
        },
        Action::SetRate(rate_hz) => return set_rate(command.id, rate_hz, state, limits),
        Action::EchoClock { token } => {
            let id = command.id;
            return (state, Answer::ClockEcho { id, token });
        }
        Action::Identify => {
            let done = reply(command.id, Outcome::Done, state);
            return (state, Answer::Hello(done));
        }
        Action::Other { .. } => {
            let refused = reply(command.id, Outcome::NotKnown, state);
            return (state, Answer::Reply(refused));
        }
    };
    let done = reply(command.id, Outcome::Done, after);
    (after, Answer::Reply(done))
}

fn set_rate(id: u16, rate_hz: u32, state: State, limits: RateLimits) -> (State, Answer) {
    let accepted = u16::try_from(rate_hz)
        .ok()
        .filter(|rate_hz| (limits.min_hz..=limits.max_hz).contains(rate_hz));
    let (after, outcome) = match accepted {
        Some(sample_rate_hz) => {
            let after = State {
                sample_rate_hz,
                ..state
            };
            (after, Outcome::Done)
        }
        None => (state, Outcome::RateOutOfRange),
    };
    (after, Answer::Reply(reply(id, outcome, after)))
}

fn reply(id: u16, outcome: Outcome, state: State) -> Reply {
    Reply {
        id,
        outcome,
        is_running: state.is_running,
        sample_rate_hz: state.sample_rate_hz,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: RateLimits = RateLimits {
        min_hz: 10,
        max_hz: 1_000,
    };
    const STOPPED: State = State {
        is_running: false,
        sample_rate_hz: 500,
    };

    #[track_caller]
    fn check(action: Action, outcome: Outcome, after: State) {
        let (state, answer) = apply(Command { id: 7, action }, STOPPED, LIMITS);
        assert_eq!(state, after);
        assert_eq!(answer, Answer::Reply(reply(7, outcome, after)));
    }

    #[test]
    fn start_runs_and_stop_stops_twice_as_well_as_once() {
        let running = State {
            is_running: true,
            ..STOPPED
        };
        check(Action::Start, Outcome::Done, running);
        check(Action::Stop, Outcome::Done, STOPPED);
    }

    #[test]
    fn rate_is_taken_inside_the_limits_only() {
        for rate_hz in [10_u16, 500, 1_000] {
            let after = State {
                sample_rate_hz: rate_hz,
                ..STOPPED
            };
            check(Action::SetRate(rate_hz.into()), Outcome::Done, after);
        }
        for rate_hz in [0, 9, 1_001, 65_546, u32::MAX] {
            check(Action::SetRate(rate_hz), Outcome::RateOutOfRange, STOPPED);
        }
    }

    #[test]
    fn unknown_command_changes_nothing_and_says_so() {
        let action = Action::Other {
            code: 99,
            argument: 1,
        };
        check(action, Outcome::NotKnown, STOPPED);
    }
}
