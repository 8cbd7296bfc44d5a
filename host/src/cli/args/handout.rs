//! Options of the verbs that end in something to hand out: `class`, `endurance`.

use std::path::PathBuf;

use clap::Args;

use super::UnitArgs;

/// What stands below the options of `class --help`.
pub(super) const CLASS_HELP: &str = "\
Examples:
  tipcurve class monday --template         write monday/class.toml, one block a recording; fill it in
  tipcurve class monday                    a page for the teacher, a worksheet for each student
  tipcurve class monday --blind            codes instead of names; the key goes to monday/blind-key.csv
  tipcurve class monday --json             the results on standard output (report/CLASS_JSON.md says how)

Exit codes: 0 done (also when nothing could be compared: the page says what is missing), 1 the tool
failed, 2 bad usage or input.";

/// Options of `class`.
#[derive(Debug, Args)]
pub struct ClassArgs {
    /// Folder with one recording folder a student, and class.toml.
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
    /// Write a class.toml to fill in, with a block for each recording found, and stop.
    #[arg(long, conflicts_with_all = ["blind", "json", "output"])]
    pub template: bool,
    /// Show codes instead of names, benches and folders. The key is kept in blind-key.csv beside
    /// class.toml and used again the next time.
    #[arg(long)]
    pub blind: bool,
    /// Folder for the pages. Without, class-report (class-blind with --blind) inside FOLDER.
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Replace earlier pages.
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the results as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

/// What stands below the options of `endurance --help`.
pub(super) const ENDURANCE_HELP: &str = "\
Examples:
  tipcurve endurance battery-a                       supply curve, largest tip, efficiency, run time
  tipcurve endurance battery-a --spraying 35         run time with the trigger open 35 % of the time
  tipcurve endurance battery-a --other battery-b     two batteries on one pump, side by side
  tipcurve endurance battery-a --json                the results on standard output
                                                     (report/ENDURANCE_JSON.md says how)

Exit codes: 0 done (also when a measurement is missing: the page names it), 1 the tool failed, 2 bad
usage or input.";

/// Options of `endurance`.
#[derive(Debug, Args)]
pub struct EnduranceArgs {
    /// Recordings of one battery in the order they were made, without charging in between.
    #[arg(required = true, value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
    /// A recording of another battery on the same pump, to compare with; may be given several times.
    #[arg(long, value_name = "RECORDING")]
    pub other: Vec<PathBuf>,
    /// Share of the time that the trigger is open, in percent.
    #[arg(long, value_name = "PERCENT", default_value_t = 50.0, value_parser = share)]
    pub spraying: f64,
    /// Folder for the page. Without, `endurance` inside the first recording.
    #[arg(long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Replace an earlier page.
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub units: UnitArgs,
    /// Print the results as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

fn share(text: &str) -> Result<f64, String> {
    match text.trim().trim_end_matches('%').trim().parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 100.0 => Ok(value),
        _ => Err("a percentage above 0 and up to 100 is needed".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_a_percentage_that_can_be() {
        assert_eq!(share("35"), Ok(35.0));
        assert_eq!(share("100 %"), Ok(100.0));
        for text in ["0", "-5", "101", "half", "NaN"] {
            assert!(share(text).is_err(), "{text}");
        }
    }
}
