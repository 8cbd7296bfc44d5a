//! The `tipcurve` program: parse, call, map to an exit code.

use std::process::ExitCode;

use clap::Parser;
use tipcurve::cli::{self, args::Cli};

fn main() -> ExitCode {
    ExitCode::from(cli::run(&Cli::parse()).code())
}
