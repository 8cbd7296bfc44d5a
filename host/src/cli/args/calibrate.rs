//! Options of `calibrate`.

use std::path::PathBuf;
use std::str::FromStr;

use clap::Args;

/// Standard uncertainty of an indication that is given without one, bar (common practice, no source).
const U_INDICATION_BAR: f64 = 0.1;

/// Options of `calibrate`. Without readings it asks for them one by one, beside the logger.
#[derive(Debug, Args)]
pub struct CalibrateArgs {
    /// Folder for the file, which gets date and time as its name; earlier ones are kept.
    #[arg(long, value_name = "FOLDER", default_value = "calibrations")]
    pub output: PathBuf,
    /// Where the logger is: as `tipcurve record --port`.
    #[arg(long, value_name = "PORT")]
    pub port: Vec<String>,
    /// Speed of serial lines.
    #[arg(long, default_value_t = 115_200)]
    pub baud: u32,
    /// How long to wait for a logger to be heard, in seconds.
    #[arg(long, value_name = "SECONDS", default_value_t = 10)]
    pub wait: u64,
    /// Initials of who calibrates.
    #[arg(long, value_name = "INITIALS")]
    pub operator: Option<String>,
    /// You have relieved pressure at the gun and locked the trigger. With readings as options.
    #[arg(long)]
    pub relieved: bool,
    /// Full scale of the pressure sensor, bar.
    #[arg(long, value_name = "BAR")]
    pub full_scale: Option<f64>,
    /// Indication with the line relieved, bar; its standard uncertainty may follow.
    #[arg(long, value_name = "BAR[:U]", allow_hyphen_values = true)]
    pub zero: Option<Reading>,
    /// The same after the span.
    #[arg(
        long,
        value_name = "BAR[:U]",
        requires = "zero",
        allow_hyphen_values = true
    )]
    pub zero_after: Option<Reading>,
    /// Reference gauge and sensor side by side, bar; may be given several times.
    #[arg(long, value_name = "GAUGE:SENSOR[:U]")]
    pub span: Vec<Comparison>,
    /// A timed catch; may be given several times.
    #[arg(long = "catch", value_name = "GRAMS:PULSES:SECONDS")]
    pub catches: Vec<Catch>,
    /// Limits of the gauge's class or certificate, percent of reading.
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0)]
    pub gauge_accuracy: f64,
    /// One division of the gauge, bar.
    #[arg(long, value_name = "BAR", default_value_t = 2.0)]
    pub gauge_division: f64,
    /// Step of the scales, grams.
    #[arg(long, value_name = "GRAMS", default_value_t = 1.0)]
    pub scale_step: f64,
    /// Density of the liquid caught, kg/m3. Without it the liquid is water.
    #[arg(long, value_name = "DENSITY")]
    pub density: Option<f64>,
    /// Temperature of the liquid caught, degrees Celsius.
    #[arg(long, value_name = "CELSIUS")]
    pub liquid_temperature: Option<f64>,
    /// Print the result as JSON instead of words.
    #[arg(long)]
    pub json: bool,
}

impl CalibrateArgs {
    /// True when readings come as options, so that nothing is asked.
    #[must_use]
    pub fn has_readings(&self) -> bool {
        self.zero.is_some() || !self.span.is_empty() || !self.catches.is_empty()
    }
}

/// An indication with its standard uncertainty, bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Mean.
    pub bar: f64,
    /// Its standard uncertainty.
    pub u_bar: f64,
}

/// Gauge and sensor, bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// What the gauge showed.
    pub gauge_bar: f64,
    /// What the sensor showed.
    pub sensor: Reading,
}

/// A timed catch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Catch {
    /// Caught, vessel subtracted.
    pub grams: f64,
    /// Pulses of the meter.
    pub pulses: u32,
    /// How long it flowed.
    pub seconds: f64,
}

impl FromStr for Reading {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match numbers(text)?[..] {
            [bar] => Ok(Self {
                bar,
                u_bar: U_INDICATION_BAR,
            }),
            [bar, u_bar] if u_bar >= 0.0 => Ok(Self { bar, u_bar }),
            _ => Err("expected BAR or BAR:U, for example 0.12:0.02".to_owned()),
        }
    }
}

impl FromStr for Comparison {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match numbers(text)?[..] {
            [gauge_bar, bar] => Ok(Self {
                gauge_bar,
                sensor: Reading {
                    bar,
                    u_bar: U_INDICATION_BAR,
                },
            }),
            [gauge_bar, bar, u_bar] if u_bar >= 0.0 => Ok(Self {
                gauge_bar,
                sensor: Reading { bar, u_bar },
            }),
            _ => Err("expected GAUGE:SENSOR or GAUGE:SENSOR:U, for example 150:148.7".to_owned()),
        }
    }
}

impl FromStr for Catch {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let expected = || "expected GRAMS:PULSES:SECONDS, for example 498.5:1247:31.2".to_owned();
        let parts: Vec<&str> = text.split(':').collect();
        let [grams, pulses, seconds] = parts[..] else {
            return Err(expected());
        };
        Ok(Self {
            grams: number(grams)?,
            pulses: pulses.trim().parse().map_err(|_| expected())?,
            seconds: number(seconds)?,
        })
    }
}

fn numbers(text: &str) -> Result<Vec<f64>, String> {
    text.split(':').map(number).collect()
}

fn number(text: &str) -> Result<f64, String> {
    let read = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    read.ok_or_else(|| format!("\"{text}\" is not a number (the decimal sign is \".\")"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_come_with_or_without_their_uncertainty() {
        let given: Reading = "-0.12:0.02".parse().unwrap();
        assert_eq!((given.bar, given.u_bar), (-0.12, 0.02));
        assert_eq!("3".parse::<Reading>().unwrap().u_bar, U_INDICATION_BAR);
        let span: Comparison = "150:148.7".parse().unwrap();
        assert_eq!((span.gauge_bar, span.sensor.bar), (150.0, 148.7));
        let one: Catch = "498.5:1247:31.2".parse().unwrap();
        assert_eq!((one.grams, one.pulses, one.seconds), (498.5, 1247, 31.2));
        for bad in ["", "1:2:3", "a", "1:-2", "nan"] {
            assert!(bad.parse::<Reading>().is_err(), "{bad}");
        }
        assert!(
            "500:1.5:30"
                .parse::<Catch>()
                .unwrap_err()
                .starts_with("expected GRAMS")
        );
        assert!(
            "1,5"
                .parse::<Reading>()
                .unwrap_err()
                .contains("decimal sign")
        );
    }
}
