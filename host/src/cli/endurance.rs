//! `tipcurve endurance`: recordings of a battery to what it pushes and for how long.

use crate::pipeline::endurance_of::judge_endurance;
use crate::report::endurance::{ENDURANCE_RESULT, summary, write};

use super::Stop;
use super::args::EnduranceArgs;
use super::read::read_all;
use super::report::{now, print_file, writing_failed};

pub(super) fn run(args: &EnduranceArgs) -> Result<(), Stop> {
    let mut first = read_all(&[args.recordings.as_slice(), &args.other].concat())?;
    let other = first.split_off(args.recordings.len());
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
