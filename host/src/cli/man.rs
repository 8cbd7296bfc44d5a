//! `tipcurve man`: the manual page, made from the options themselves.

use clap::CommandFactory;

use super::Stop;
use super::args::{Cli, ManArgs};

pub(super) fn run(_args: &ManArgs) -> Result<(), Stop> {
    clap_mangen::Man::new(Cli::command())
        .render(&mut std::io::stdout())
        .map_err(|e| Stop::failed(format!("the manual page cannot be printed: {e}")))
}
