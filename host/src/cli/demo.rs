//! `tipcurve demo`: the whole job with nothing plugged in.
//!
//! Everything in it is made by the simulated rig and says so: the rig's physics plays, the firmware's own
//! core samples it in virtual time, the frames are written as a recording, and the recording is
//! read, analysed and reported like any other.

use std::fs;
use std::path::Path;

use crate::recording::roster::ROSTER;
use crate::report::Options;
use crate::simulate;
use crate::simulate::scenario::Scenario;
use crate::simulate::scenario::lesson::ClassMember;

use super::Stop;
use super::args::DemoArgs;
use super::report::{print_all, report_one, said};
use super::terminal;

/// A file that only a demo leaves in its folder, so that `--force` never removes anything else.
const MARK: &str = "made-by-the-simulated-rig.txt";

pub(super) fn run(args: &DemoArgs) -> Result<(), Stop> {
    prepare(&args.output, args.force)?;
    if args.lesson {
        return lesson(&args.output, args.seed);
    }
    let units = args.units.choice();
    let scenarios = simulate::scenario::demo(args.seed);
    let bar = terminal::progress(2 * scenarios.len());
    let mut texts = Vec::new();
    for scenario in &scenarios {
        let folder = args.output.join(&scenario.name);
        bar.set_message(format!("spraying {}", scenario.name));
        simulate::record::run(scenario, &folder).map_err(Stop::failed)?;
        bar.inc(1);
        bar.set_message(format!("reading {}", scenario.name));
        let (findings, page) =
            report_one(&folder, &folder.join("report"), &units, &Options::default())?;
        texts.push(said(&findings, &units, &page, args.json)?);
        bar.inc(1);
    }
    bar.finish_and_clear();
    print_all(&texts, args.json);
    Ok(())
}

/// The recordings of the lesson: a class with its roster, and two batteries.
fn lesson(output: &Path, seed: u64) -> Result<(), Stop> {
    let members = simulate::scenario::lesson::class(seed);
    let batteries = simulate::scenario::lesson::batteries(seed);
    let class = output.join("class");
    let bar = terminal::progress(members.len() + batteries.len());
    let spray = |scenario: &Scenario, folder: &Path| {
        bar.set_message(format!("spraying {}", scenario.name));
        simulate::record::run(scenario, &folder.join(&scenario.name)).map_err(Stop::failed)?;
        bar.inc(1);
        Ok(())
    };
    for member in &members {
        spray(&member.scenario, &class)?;
    }
    for battery in &batteries {
        spray(battery, output)?;
    }
    bar.finish_and_clear();
    let roster = roster_of(&members);
    let path = class.join(ROSTER);
    fs::write(&path, roster)
        .map_err(|e| Stop::failed(format!("{}: cannot write: {e}", path.display())))?;
    println!(
        "made {}: a class of six; next: tipcurve class {}",
        class.display(),
        class.display()
    );
    let [first, second] = batteries.map(|b| output.join(b.name).display().to_string());
    println!("made {first} and {second}; next: tipcurve endurance {first} --other {second}");
    println!("Simulated data: no paint was sprayed; names are invented.");
    Ok(())
}

/// `class.toml` of the lesson.
fn roster_of(members: &[ClassMember]) -> String {
    let mut text = String::from(
        "# The lesson's class: invented names, simulated recordings.\n\
         title = \"Cabin enamel through a 415\"\nreference = \"consensus\"\n",
    );
    for m in members {
        text.push_str(&format!(
            "\n[[student]]\nname = \"{}\"\nnumber = \"{}\"\nrecording = \"{}\"\nbench = \"{}\"\n",
            m.name, m.number, m.scenario.name, m.bench
        ));
    }
    text
}

/// Makes the folder; with `force`, first removes an earlier demo, and nothing but one.
fn prepare(output: &Path, force: bool) -> Result<(), Stop> {
    let failed =
        |e: std::io::Error| Stop::failed(format!("{}: cannot write: {e}", output.display()));
    if output.exists() {
        let is_demo = output.join(MARK).exists();
        if !(force && is_demo) {
            return Err(Stop::bad_input(format!(
                "{} already exists{}; nothing was overwritten",
                output.display(),
                if is_demo {
                    " (an earlier demo; --force replaces it)"
                } else {
                    ""
                }
            )));
        }
        fs::remove_dir_all(output).map_err(failed)?;
    }
    fs::create_dir_all(output).map_err(failed)?;
    fs::write(
        output.join(MARK),
        "Every recording in this folder was made by the simulated rig of `tipcurve demo`: invented \
         coatings, rigs and numbers, for learning the tool. Nothing here is a measurement.\n",
    )
    .map_err(failed)
}
