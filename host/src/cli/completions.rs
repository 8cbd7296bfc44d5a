//! `tipcurve completions`: what a shell needs to complete the options.

use clap::CommandFactory;

use super::Stop;
use super::args::{Cli, CompletionsArgs};

#[allow(clippy::unnecessary_wraps)] // All verbs have one shape.
pub(super) fn run(args: &CompletionsArgs) -> Result<(), Stop> {
    clap_complete::generate(
        args.shell,
        &mut Cli::command(),
        "tipcurve",
        &mut std::io::stdout(),
    );
    Ok(())
}
