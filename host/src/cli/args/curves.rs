//! Options of the verbs that work on curves already measured: `plan`, `compare`, `export`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::UnitArgs;

const PLAN_EXAMPLES: &str = "\
Examples, in the folder that `tipcurve demo` makes:
  tipcurve plan narrowboat-1-morning
  tipcurve plan narrowboat-1-morning --tip 415
  tipcurve plan narrowboat-2-afternoon --tips 309,411 --pressure-unit psi
  tipcurve plan narrowboat-1-morning --tip 415 --area 12 --film-um 120

The answer is yes, no or not known. Nothing is guessed beyond what was measured: there only a bound is given.
The litres rest on a transfer of 55 to 85 %, the charges on the current that was logged.";

const COMPARE_EXAMPLES: &str = "\
Examples, in the folder that `tipcurve demo` makes:
  tipcurve compare narrowboat-2-afternoon narrowboat-3-evening
  tipcurve compare narrowboat-2-afternoon narrowboat-3-evening --output moved
  tipcurve compare --season . --output season

A nozzle curve that rose means wear, one that fell a restriction; a supply curve that fell means inlet, pump or
battery. Words are given only where the 95 % interval carries them; \u{201c}cannot tell\u{201d} is an answer.";

const EXPORT_EXAMPLES: &str = "\
Examples, in the folder that `tipcurve demo` makes:
  tipcurve export narrowboat-1-morning --output morning
  tipcurve import morning --output morning-again
  tipcurve export narrowboat-1-morning --output morning-tables --format parquet

samples.csv, notes.csv and session.toml are the plain-text interchange that `import` reads. Nothing is overwritten.";

/// Options of `plan`.
#[derive(Debug, Args)]
#[command(after_help = PLAN_EXAMPLES)]
pub struct PlanArgs {
    /// Recording folders of one rig; the latest one's supply curve counts.
    #[arg(required = true, value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
    /// Only this tip; may be given several times. Without, every tip of the session files.
    #[arg(long, value_name = "CODE")]
    pub tip: Vec<String>,
    /// More tips of the box, beside those of the session files.
    #[arg(long, value_name = "CODE,CODE", value_delimiter = ',')]
    pub tips: Vec<String>,
    /// Coating. Without, the one that the latest recording is mainly about.
    #[arg(long, value_name = "NAME")]
    pub material: Option<String>,
    /// Thinner, percent by volume of coating. Without, as it was mostly measured.
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub thinner: Option<f64>,
    /// Position of the pressure control. Without, the highest one measured.
    #[arg(long, value_name = "POSITION", allow_hyphen_values = true)]
    pub dial: Option<String>,
    /// Area to coat, square metres: litres, time and battery charges for it.
    #[arg(long, value_name = "M2", value_parser = above_zero, allow_negative_numbers = true)]
    pub area: Option<f64>,
    /// Wet film wanted, micrometres. Without any film, what one coat gives.
    #[arg(long, value_name = "UM", value_parser = above_zero, requires = "area")]
    pub film_um: Option<f64>,
    /// Dry film wanted, micrometres.
    #[arg(long, value_name = "UM", value_parser = above_zero, requires = "area", conflicts_with = "film_um")]
    pub dry_film_um: Option<f64>,
    /// Coverage as the tin states it, square metres a litre, without loss.
    #[arg(long, value_name = "M2_PER_L", value_parser = above_zero, requires = "area",
          conflicts_with_all = ["film_um", "dry_film_um"])]
    pub coverage: Option<f64>,
    /// Speed of the hand, metres a second.
    #[arg(long, value_name = "M_PER_S", value_parser = above_zero, default_value = "0.5")]
    pub hand_speed: f64,
    /// Overlap of neighbouring passes, percent of the fan.
    #[arg(long, value_name = "PERCENT", value_parser = overlap, default_value = "50")]
    pub overlap: f64,
    /// Share of the working time with the trigger open, percent.
    #[arg(long, value_name = "PERCENT", value_parser = share, default_value = "50")]
    pub trigger_share: f64,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the plan as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

/// Options of `compare`.
#[derive(Debug, Args)]
#[command(after_help = COMPARE_EXAMPLES)]
pub struct CompareArgs {
    /// Recording folders, two or more: each later one is held against the earliest.
    #[arg(value_name = "RECORDING", required_unless_present = "season")]
    pub recordings: Vec<PathBuf>,
    /// A folder of recordings: tip wear over litres and pump health over months.
    #[arg(long, value_name = "FOLDER", conflicts_with = "recordings")]
    pub season: Option<PathBuf>,
    /// Folder for the page and its JSON; without, only the terminal.
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Replace an earlier page.
    #[arg(long, requires = "output")]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the comparison as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

/// Options of `export`.
#[derive(Debug, Args)]
#[command(after_help = EXPORT_EXAMPLES)]
pub struct ExportArgs {
    /// Recording folder.
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,
    /// Folder to make; must not exist yet. Without, NAME-export here.
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Form of the tables.
    #[arg(long, value_enum, default_value = "csv")]
    pub format: ExportFormat,
    /// Print what was written as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Forms of exported tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[value(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum ExportFormat {
    Csv,
    Parquet,
}

fn number(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|x| x.is_finite())
        .ok_or_else(|| "it must be a number (the decimal sign is \".\")".to_owned())
}

fn above_zero(text: &str) -> Result<f64, String> {
    match number(text)? {
        x if x > 0.0 => Ok(x),
        _ => Err("it must be above zero".to_owned()),
    }
}

fn percent(text: &str) -> Result<f64, String> {
    match number(text)? {
        x if (0.0..=100.0).contains(&x) => Ok(x),
        _ => Err("it must lie between 0 and 100".to_owned()),
    }
}

fn overlap(text: &str) -> Result<f64, String> {
    match number(text)? {
        x if (0.0..=90.0).contains(&x) => Ok(x),
        _ => Err("it must lie between 0 and 90".to_owned()),
    }
}

fn share(text: &str) -> Result<f64, String> {
    match number(text)? {
        x if x > 0.0 && x <= 100.0 => Ok(x),
        _ => Err("it must be above 0 and at most 100".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_refused_outside_its_range_and_a_comma_is_named() {
        assert_eq!(share("50"), Ok(50.0));
        assert!(share("0").is_err() && share("101").is_err() && percent("-1").is_err());
        assert!(above_zero("1,5").unwrap_err().contains("decimal sign"));
        assert!(above_zero("NaN").is_err() && above_zero("inf").is_err());
    }
}
