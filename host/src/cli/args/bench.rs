//! Options of the verbs that are used at the rig: `new`, `record`, `note`, `wall`.

use std::net::IpAddr;
use std::path::PathBuf;

use clap::Args;

/// Where a page is served.
#[derive(Debug, Clone, Args)]
pub struct PageArgs {
    /// Port of the page; the next free one is taken when it is in use.
    #[arg(long, value_name = "PORT", default_value_t = 4720)]
    pub page_port: u16,
    /// Let other devices in your network reach the page: prints its address and a one-time code. With
    /// an address, only on that one. Without this option the page is on this computer only.
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, require_equals = true)]
    pub share: Option<Option<IpAddr>>,
}

/// Options of `record`.
#[derive(Debug, Args)]
pub struct RecordArgs {
    /// Recording folder, as `tipcurve new` makes one; made when it is not there. Without, a folder
    /// named after date and time.
    #[arg(value_name = "RECORDING")]
    pub recording: Option<PathBuf>,
    /// Where the logger is: a serial port, tcp:HOST:PORT, file:PATH, or - for standard input. Several:
    /// the only logger among them. Without, the only logger on any serial port.
    #[arg(long, value_name = "PORT")]
    pub port: Vec<String>,
    /// Only the logger with this device id (hexadecimal, as --list shows).
    #[arg(long, value_name = "ID", value_parser = parse_hex)]
    pub device: Option<u64>,
    /// Speed of serial lines; loggers on USB ignore it.
    #[arg(long, default_value_t = 115_200)]
    pub baud: u32,
    /// Samples per second to ask the logger for.
    #[arg(long, value_name = "HZ")]
    pub rate: Option<u32>,
    /// How long to wait for a logger to be heard, in seconds.
    #[arg(long, value_name = "SECONDS", default_value_t = 10)]
    pub wait: u64,
    /// List the serial ports with what is known of each, and stop.
    #[arg(long)]
    pub list: bool,
    /// Go on with a recording that was begun earlier.
    #[arg(long)]
    pub resume: bool,
    /// Take rig, tips and coatings from an earlier recording.
    #[arg(long, value_name = "RECORDING")]
    pub from: Option<PathBuf>,
    /// Serve no bench page.
    #[arg(long, conflicts_with = "share")]
    pub no_page: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub page: PageArgs,
    /// Print the last status as JSON at the end.
    #[arg(long)]
    pub json: bool,
}

/// Options of `note`.
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// Recording folder.
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,
    /// Tails of the last burst: 0 none, 1 faint, 2 clear, 3 heavy.
    #[arg(long, value_parser = clap::value_parser!(u8).range(0..=3))]
    pub tails: Option<u8>,
    /// The coat ran.
    #[arg(long)]
    pub ran: bool,
    /// Tip that is fitted now.
    #[arg(long, value_name = "CODE")]
    pub tip: Option<String>,
    /// Your own word for the tip's family.
    #[arg(long, value_name = "WORD")]
    pub tip_family: Option<String>,
    /// Coating, as the session file names it.
    #[arg(long, value_name = "NAME")]
    pub material: Option<String>,
    /// Thinner, percent by volume of coating.
    #[arg(long, value_name = "PERCENT")]
    pub thinner: Option<f64>,
    /// Position of the pressure control.
    #[arg(long, value_name = "POSITION", allow_hyphen_values = true)]
    pub dial: Option<String>,
    /// Wet film comb, micrometres.
    #[arg(long, value_name = "UM")]
    pub comb: Option<f64>,
    /// Something that was done: sync, `tip_changed`, setup, `battery_swap`, `filter_cleaned`, relieved.
    #[arg(long, value_name = "EVENT")]
    pub event: Option<String>,
    /// Take back the latest note.
    #[arg(long, conflicts_with_all = ["tails", "ran", "tip", "material", "dial", "comb", "event", "text"])]
    pub undo: bool,
    /// How long ago it was seen, in seconds.
    #[arg(long, value_name = "SECONDS", default_value_t = 0.0)]
    pub ago: f64,
    /// Free text.
    #[arg(value_name = "TEXT")]
    pub text: Vec<String>,
}

/// Options of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// Recording folder to make; must not exist yet.
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,
    /// Take everything but date and notes from an earlier recording.
    #[arg(long, value_name = "RECORDING")]
    pub from: Option<PathBuf>,
    /// Rig, in your own words.
    #[arg(long, value_name = "TEXT")]
    pub rig: Option<String>,
    /// Lowest rated working pressure of pump, hose, gun and fittings, bar.
    #[arg(long, value_name = "BAR", value_parser = plain_number)]
    pub working_pressure: Option<f64>,
    /// Full scale of the pressure sensor, bar.
    #[arg(long, value_name = "BAR", value_parser = plain_number)]
    pub full_scale: Option<f64>,
    /// Pulses of the flow meter per litre.
    #[arg(long, value_name = "PULSES", value_parser = plain_number)]
    pub pulses_per_litre: Option<f64>,
    /// Coating; may be given several times.
    #[arg(long, value_name = "NAME")]
    pub material: Vec<String>,
    /// Tip code; may be given several times.
    #[arg(long, value_name = "CODE")]
    pub tip: Vec<String>,
    /// A calibration file of `tipcurve calibrate` to take over.
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Ask nothing: what is not given stays an example to fill in.
    #[arg(long)]
    pub no_questions: bool,
}

/// Options of `wall`.
#[derive(Debug, Args)]
pub struct WallArgs {
    /// Wall links as the recorders print them, in the order to be shown.
    #[arg(required = true, value_name = "LINK")]
    pub benches: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub page: PageArgs,
}

fn parse_hex(text: &str) -> Result<u64, String> {
    u64::from_str_radix(text.trim_start_matches("0x"), 16)
        .map_err(|_| "a device id is hexadecimal, as `tipcurve record --list` shows it".to_owned())
}

/// A number as a person writes it; what else stands there is told in words.
fn plain_number(text: &str) -> Result<f64, String> {
    let number = text.trim().parse::<f64>().ok().filter(|x| x.is_finite());
    number
        .ok_or_else(|| "a number without its unit is needed (the decimal sign is \".\")".to_owned())
}
