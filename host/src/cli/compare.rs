//! `tipcurve compare`: which curve moved between recordings, or over a season of them.

use crate::analysis::health::{Defect, DefectKind};
use crate::findings::Findings;
use crate::pipeline::compare_days::compare_days;
use crate::pipeline::plan_box::in_order_of_time;
use crate::report::Options;
use crate::report::compare::{Compared, json, text, write};
use crate::units::Pascal;

use super::Stop;
use super::args::CompareArgs;
use super::read::read_all;
use super::report::{now, writing_failed};
use super::terminal;

pub(super) fn run(args: &CompareArgs) -> Result<(), Stop> {
    if let Some(folder) = &args.season {
        return super::season::run(args, folder);
    }
    if let [only] = args.recordings.as_slice() {
        return Err(Stop::bad_input(format!(
            "{}: one recording has nothing to be compared with; name an earlier one too, or a folder of \
             recordings with --season",
            only.display()
        )));
    }
    let findings = read_all(&args.recordings)?;
    for f in &findings {
        let is_beyond = |d: &&Defect| d.kind == DefectKind::PressureBeyondSensor;
        if let Some(defect) = f.defects.iter().find(is_beyond) {
            return Err(Stop::bad_input(format!(
                "{}: pressures up to {:.0} bar, far above what its sensor can read, as when psi and bar (or kPa and \
                 bar) are mixed up; nothing was compared; write pressure_bar in bar, or correct full_scale_bar in \
                 session.toml",
                f.name,
                Pascal(defect.magnitude.unwrap_or(f64::NAN)).as_bar()
            )));
        }
    }
    let given: Vec<&Findings> = findings.iter().collect();
    let list = in_order_of_time(&given);
    let has_order = list.iter().all(|f| f.settings.started_at_unix_s.is_some())
        || list.iter().all(|f| f.settings.date.is_some());
    let Some((before, later)) = list.split_first() else {
        return Err(Stop::bad_input("no recording was given"));
    };
    let compared = Compared {
        before,
        later: later
            .iter()
            .map(|after| {
                let moved = compare_days(before, after, has_order).map_err(Stop::bad_input)?;
                Ok((*after, moved))
            })
            .collect::<Result<_, Stop>>()?,
    };
    let units = args.units.choice();
    let page = match &args.output {
        None => None,
        Some(folder) => {
            Some(write(&compared, &units, folder, &options(args)).map_err(writing_failed)?)
        }
    };
    if args.json {
        let said = json(&compared, &units).map_err(Stop::failed)?;
        terminal::print(&format!("{said}\n"));
        return Ok(());
    }
    terminal::print(&text(&compared, &units));
    if let Some(page) = page {
        terminal::print(&format!("page: {}\n", page.display()));
    }
    Ok(())
}

pub(super) fn options(args: &CompareArgs) -> Options {
    Options {
        overwrite: args.force,
        made_at: Some(now()),
        ..Options::default()
    }
}
