//! What the program says and reads at the terminal: the only place that prints.
//!
//! [`args`] is every option, one file a verb does it, [`hints`] adds advice to an error, [`terminal`]
//! knows colour and progress. No arithmetic on measurements here.
#![allow(clippy::print_stdout, clippy::print_stderr)] // The one place that may.

pub mod args;
mod calibrate;
mod class;
mod compare;
mod completions;
mod demo;
mod endurance;
mod export;
mod hints;
mod import;
mod local;
mod man;
mod nearest;
mod new;
mod note;
mod plan;
mod prompt;
mod read;
mod record;
mod report;
mod season;
mod terminal;
mod wall;

use args::{Cli, Verb};

/// How a run ended, as an exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Done: 0.
    Done,
    /// The tool failed: 1.
    Failed,
    /// Bad usage or input: 2.
    BadInput,
}

impl Outcome {
    /// The exit code.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Failed => 1,
            Self::BadInput => 2,
        }
    }
}

/// Why a verb stopped: what to say and how to exit.
#[derive(Debug)]
struct Stop {
    outcome: Outcome,
    message: String,
}

impl Stop {
    fn bad_input(message: impl std::fmt::Display) -> Self {
        Self {
            outcome: Outcome::BadInput,
            message: message.to_string(),
        }
    }

    /// Several stops as one, a failure of the tool before bad input; `Ok` for none.
    fn of_all(stops: Vec<Self>) -> Result<(), Self> {
        let outcome = match stops.iter().find(|s| s.outcome == Outcome::Failed) {
            Some(failed) => failed.outcome,
            None => match stops.first() {
                Some(first) => first.outcome,
                None => return Ok(()),
            },
        };
        let messages: Vec<String> = stops.into_iter().map(|s| s.message).collect();
        Err(Self {
            outcome,
            message: messages.join("\n"),
        })
    }

    fn failed(message: impl std::fmt::Display) -> Self {
        Self {
            outcome: Outcome::Failed,
            message: message.to_string(),
        }
    }
}

/// Runs a verb and says how it ended.
#[must_use]
pub fn run(cli: &Cli) -> Outcome {
    let result = match &cli.verb {
        Verb::Demo(args) => demo::run(args),
        Verb::Import(args) => import::run(args),
        Verb::Record(args) => record::run(args),
        Verb::Note(args) => note::run(args),
        Verb::Calibrate(args) => calibrate::run(args),
        Verb::New(args) => new::run(args),
        Verb::Wall(args) => wall::run(args),
        Verb::Report(args) => report::run(args),
        Verb::Class(args) => class::run(args),
        Verb::Endurance(args) => endurance::run(args),
        Verb::Plan(args) => plan::run(args),
        Verb::Compare(args) => compare::run(args),
        Verb::Export(args) => export::run(args),
        Verb::Completions(args) => completions::run(args),
        Verb::Man(args) => man::run(args),
    };
    match result {
        Ok(()) => Outcome::Done,
        Err(stop) => {
            eprintln!("{}", terminal::error(&stop.message));
            if let Some(hint) = hints::hint_for(&stop.message) {
                eprintln!("{}", terminal::hint(hint));
            }
            stop.outcome
        }
    }
}
