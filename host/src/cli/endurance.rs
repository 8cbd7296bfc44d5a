//! `tipcurve endurance`: recordings of a battery to what it pushes and for how long.

use std::path::PathBuf;

use crate::findings::Findings;
use crate::pipeline::analyse;
use crate::pipeline::endurance_of::judge_endurance;
use crate::recording::load::load;
use crate::report::endurance::{ENDURANCE_RESULT, summary, write};

use super::Stop;
use super::args::EnduranceArgs;
use super::class::print_file;
use super::report::{now, writing_failed};
use super::terminal;

pub(super) fn run(args: &EnduranceArgs) -> Result<(), Stop> {
    let bar = terminal::progress(args.recordings.len() + args.other.len());
    let read = |paths: &[PathBuf]| -> Result<Vec<Findings>, Stop> {
        paths
            .iter()
            .map(|path| {
                bar.set_message(path.display().to_string());
                let recording = load(path).map_err(Stop::bad_input)?;
                let findings = analyse(&recording);
                bar.inc(1);
                Ok(findings)
            })
            .collect()
    };
    let (first, other) = (read(&args.recordings)?, read(&args.other)?);
    bar.finish_and_clear();
    let found = judge_endurance(&first, &other, args.spraying / 100.0);
    let units = args.units.choice();
    let output = args
        .output
        .clone()
        .unwrap_or_else(|| args.recordings[0].join("endurance"));
    let page = write(&found, &units, &output, Some(&now()), args.force).map_err(writing_failed)?;
    if args.json {
        print_file(&page.with_file_name(ENDURANCE_RESULT))
    } else {
        println!(
            "{}\npage: {}",
            summary(&found, &units).trim_end(),
            page.display()
        );
        Ok(())
    }
}
