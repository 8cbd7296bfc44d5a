//! Every option of every verb.

mod bench;
mod calibrate;
mod curves;
mod handout;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use bench::{NewArgs, NoteArgs, PageArgs, RecordArgs, WallArgs};
pub use calibrate::CalibrateArgs;
pub use curves::{CompareArgs, ExportArgs, ExportFormat, PlanArgs};
pub use handout::{ClassArgs, EnduranceArgs};

use crate::units::{FlowUnit, OrificeUnit, PressureUnit, UnitChoice};

/// What stands below the options of `--help`.
const AFTER_HELP: &str = "\
Exit codes: 0 done (also when a rig is at its limit), 1 the tool failed, 2 bad usage or input.

Airless pressure can inject fluid through the skin: an injection is a surgical emergency even if
it looks like a cut. Relieve pressure and lock the trigger before touching tip, filter or sensor.
A zero reading never proves that a line is safe. The coating's data sheet, the pump's manual,
local codes and licensed practice come first.";

/// Which limit has this rig hit with this coating, and what to change?
///
/// Lines a log of pressure and flow up with the notes taken at the rig, fits each tip's
/// pressure-flow curve, finds the lowest pressure without tails, and says what closes the window.
#[derive(Debug, Parser)]
#[command(name = "tipcurve", version, after_help = AFTER_HELP, max_term_width = 100)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub verb: Verb,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Run the whole job with nothing plugged in: a simulated rig, its notes, fit and report.
    Demo(DemoArgs),
    /// Make a recording folder: session, tips, coatings and rig, with comments and examples.
    New(NewArgs),
    /// Record from a logger into a recording folder, and serve the bench page meanwhile.
    Record(RecordArgs),
    /// Add a note to a recording, also while it is being recorded.
    Note(NoteArgs),
    /// Find pressure zero and span and the flow constant, guided, and write a calibration file.
    Calibrate(CalibrateArgs),
    /// Show the benches of several recorders side by side, for a class to look at.
    Wall(WallArgs),
    /// Read samples.csv, notes.csv and session.toml into a recording folder.
    Import(ImportArgs),
    /// Align, fit, decide, and write the report of one or more recordings.
    Report(ReportArgs),
    /// Hold a class against a reference: a page for the teacher, a worksheet for each student.
    #[command(after_help = handout::CLASS_HELP)]
    Class(ClassArgs),
    /// What a cordless pump pushes and for how long, and two batteries compared.
    #[command(after_help = handout::ENDURANCE_HELP)]
    Endurance(EnduranceArgs),
    /// Will this rig push this coating through this tip? From curves already measured.
    Plan(PlanArgs),
    /// Which curve moved between recordings, how much, how sure; or a whole season of them.
    Compare(CompareArgs),
    /// Write a recording out as plain text or Parquet.
    Export(ExportArgs),
    /// Print the completions of a shell.
    Completions(CompletionsArgs),
    /// Print the manual page.
    Man(ManArgs),
}

/// The units that a person reads.
#[derive(Debug, Clone, Copy, Args)]
pub struct UnitArgs {
    /// Unit of pressures.
    #[arg(long, value_enum, ignore_case = true, default_value = "bar")]
    pub pressure_unit: PressureChoice,
    /// Unit of flows.
    #[arg(long, value_enum, ignore_case = true, default_value = "l/min")]
    pub flow_unit: FlowChoice,
    /// Unit of orifices.
    #[arg(long, value_enum, ignore_case = true, default_value = "mm")]
    pub orifice_unit: OrificeChoice,
}

/// Pressure units on the command line.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[value(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum PressureChoice {
    Bar,
    Psi,
    Mpa,
}

/// Flow units on the command line.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs)]
pub enum FlowChoice {
    #[value(name = "l/min")]
    LitrePerMinute,
    #[value(name = "gal/min")]
    UsGallonPerMinute,
}

/// Orifice units on the command line.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[value(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum OrificeChoice {
    Mm,
    Thou,
}

impl UnitArgs {
    /// The choice as the report takes it.
    #[must_use]
    pub const fn choice(self) -> UnitChoice {
        UnitChoice {
            pressure: match self.pressure_unit {
                PressureChoice::Bar => PressureUnit::Bar,
                PressureChoice::Psi => PressureUnit::Psi,
                PressureChoice::Mpa => PressureUnit::Mpa,
            },
            flow: match self.flow_unit {
                FlowChoice::LitrePerMinute => FlowUnit::LitrePerMinute,
                FlowChoice::UsGallonPerMinute => FlowUnit::UsGallonPerMinute,
            },
            orifice: match self.orifice_unit {
                OrificeChoice::Mm => OrificeUnit::Mm,
                OrificeChoice::Thou => OrificeUnit::Thou,
            },
        }
    }
}

/// Options of `demo`.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder to put the recordings and reports in; must not exist yet.
    #[arg(long, value_name = "FOLDER", default_value = "tipcurve-demo")]
    pub output: PathBuf,
    /// Make the recordings of the lesson instead: a class of six with its roster, and two batteries.
    #[arg(long, conflicts_with = "json")]
    pub lesson: bool,
    /// Replace the folder of an earlier demo.
    #[arg(long)]
    pub force: bool,
    /// Seed of everything that is random: the same seed gives the same recordings.
    #[arg(long, default_value_t = 7)]
    pub seed: u64,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the results as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

/// Options of `import`.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// Folder with samples.csv, notes.csv and session.toml.
    pub source: PathBuf,
    /// Recording folder to make; must not exist yet.
    #[arg(long, value_name = "FOLDER")]
    pub output: PathBuf,
    /// Print what was read as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// Recording folders.
    #[arg(required = true, value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
    /// Folder for the report; with several recordings, one folder each below it. Without, `report`
    /// inside each recording.
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Replace an earlier report.
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the results as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

/// Options of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell.
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// Options of `man`.
#[derive(Debug, Args)]
pub struct ManArgs {}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_options_are_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn units_reach_the_report_as_chosen() {
        let cli = Cli::try_parse_from([
            "tipcurve",
            "report",
            "x",
            "--pressure-unit",
            "psi",
            "--flow-unit",
            "gal/min",
            "--orifice-unit",
            "thou",
        ])
        .unwrap();
        let Verb::Report(args) = cli.verb else {
            panic!("{:?}", cli.verb)
        };
        let choice = args.units.choice();
        assert_eq!(choice.pressure, PressureUnit::Psi);
        assert_eq!(choice.flow, FlowUnit::UsGallonPerMinute);
        assert_eq!(choice.orifice, OrificeUnit::Thou);
    }
}
