//! A calibration as a file: TOML that a person can read, under a name with date and time.
//!
//! `[flow_meter]` and `[pressure_sensor]` carry the keys of a `session.toml` and can be copied there as
//! they stand; everything else says where they come from.

use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::CalibrateError;
use super::result::{Calibration, MeterResult, SensorResult};
use crate::estimate::budget::{Budget, Evaluation};
use crate::recording::decimal::decimal;
use crate::recording::folder;
use crate::recording::notes::write_moment;
use crate::units::{M3_PER_L, Pascal};

/// When a calibration was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Unix seconds.
    pub unix_s: f64,
    /// Offset of local time from UTC, s.
    pub utc_offset_s: f64,
}

impl Moment {
    fn date_time(self) -> String {
        write_moment(self.unix_s.floor(), self.utc_offset_s)
    }

    /// `calibration-2026-03-02-140509.toml`, with a number where that is taken.
    fn file_name(self, index: usize) -> String {
        let digits: String = self.date_time()[..19].replace('T', "-").replace(':', "");
        if index == 0 {
            format!("calibration-{digits}.toml")
        } else {
            format!("calibration-{digits}-{}.toml", index + 1)
        }
    }
}

/// Writes a calibration into a folder, which is made when it is not there. Gives the new file; one that
/// is there already is never touched.
///
/// # Errors
/// [`CalibrateError::File`].
pub fn write(
    calibration: &Calibration,
    device_id: Option<u64>,
    moment: Moment,
    into: &Path,
) -> Result<PathBuf, CalibrateError> {
    let failed = |path: &Path, error: &io::Error| CalibrateError::File {
        path: path.display().to_string(),
        reason: error.to_string(),
    };
    fs::create_dir_all(into).map_err(|e| failed(into, &e))?;
    let text = text(calibration, device_id, moment);
    for index in 0.. {
        let path = into.join(moment.file_name(index));
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(mut file) => {
                let written = file
                    .write_all(text.as_bytes())
                    .and_then(|()| file.sync_all())
                    .and_then(|()| folder::sync_folder_of(&path));
                return match written {
                    Ok(()) => Ok(path),
                    Err(error) => {
                        // Half a calibration is none; failing to remove it changes nothing.
                        let _ = fs::remove_file(&path);
                        Err(failed(&path, &error))
                    }
                };
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(failed(&path, &error)),
        }
    }
    unreachable!("a name that is free is found before the numbers run out")
}

/// The whole text.
#[must_use]
pub fn text(calibration: &Calibration, device_id: Option<u64>, moment: Moment) -> String {
    let mut text = String::from(
        "# A calibration by tipcurve calibrate. Kept as it is; a later one gets a file of its own.\n\
         # To use it: tipcurve new RECORDING --calibration THIS-FILE, or copy the lines of [flow_meter]\n\
         # and [pressure_sensor] into a session.toml.\n\
         # A zero calibrates the zero; it never proves that a line is safe.\n\n",
    );
    let quoted = |word: &str| toml::Value::String(word.to_owned()).to_string();
    line(&mut text, "date", &quoted(&moment.date_time()[..10]));
    line(&mut text, "made_at", &quoted(&moment.date_time()));
    line(&mut text, "operator", &quoted(&calibration.operator));
    line(&mut text, "relieved_before_zero", "true");
    if let Some(id) = device_id {
        line(&mut text, "device_id", &quoted(&format!("{id:X}")));
    }
    if let Some(meter) = &calibration.meter {
        flow_meter(&mut text, meter);
    }
    if let Some(sensor) = &calibration.pressure {
        pressure_sensor(&mut text, sensor);
    }
    if let Some(meter) = &calibration.meter {
        catches(&mut text, meter);
        budget(&mut text, "pulses_per_litre", &meter.budget, M3_PER_L);
    }
    if let Some(span) = calibration.pressure.as_ref().and_then(|s| s.span.as_ref()) {
        budget(&mut text, "gain", &span.gain_budget, 1.0);
    }
    text
}

fn flow_meter(text: &mut String, meter: &MeterResult) {
    text.push_str("\n[flow_meter]\n");
    let k = meter.k_factor_per_m3.value * M3_PER_L;
    number(text, "pulses_per_litre", rounded(k, 4));
    number(
        text,
        "std_uncertainty_pct",
        rounded(100.0 * meter.u_ratio(), 3),
    );
    number(
        text,
        "lowest_calibrated_hz",
        rounded(meter.fit.range_hz.0, 2),
    );
}

fn pressure_sensor(text: &mut String, sensor: &SensorResult) {
    text.push_str("\n[pressure_sensor]\n");
    let bar = |pa: f64| rounded(Pascal(pa).as_bar(), 4);
    let (zero_pa, u_zero_pa) = sensor.zero_pa();
    number(text, "zero_bar", bar(zero_pa));
    number(text, "zero_std_uncertainty_bar", bar(u_zero_pa));
    if let Some((gain, u_ratio)) = sensor.gain() {
        number(text, "gain", rounded(gain, 5));
        number(
            text,
            "gain_std_uncertainty_pct",
            rounded(100.0 * u_ratio, 3),
        );
    }
    text.push_str("\n[zero]\n");
    match sensor.zero.drift_pa {
        Some(drift) => {
            number(text, "drift_bar", bar(drift.value));
            number(text, "drift_std_uncertainty_bar", bar(drift.u_combined()));
            line(text, "is_drifting", &sensor.zero.is_drifting.to_string());
        }
        None => text.push_str("# Taken once: its drift is not known.\n"),
    }
    for point in &sensor.points {
        text.push_str("\n[[span_point]]\n");
        number(text, "gauge_bar", bar(point.reference_pa));
        number(text, "gauge_std_uncertainty_bar", bar(point.u_reference_pa));
        number(text, "sensor_bar", bar(point.indicated_pa));
        number(
            text,
            "sensor_std_uncertainty_bar",
            bar(point.u_indicated_pa),
        );
    }
    if let Some(span) = &sensor.span {
        text.push_str("\n[span]\n");
        number(
            text,
            "greatest_residual_bar",
            bar(span.greatest_residual_pa),
        );
    }
}

fn catches(text: &mut String, meter: &MeterResult) {
    for point in &meter.fit.points {
        text.push_str("\n[[catch]]\n");
        number(text, "frequency_hz", rounded(point.frequency_hz, 3));
        let litres_per_minute = crate::units::CubicMetrePerSecond(point.flow_m3_per_s).as_l_min();
        number(text, "flow_l_min", rounded(litres_per_minute, 4));
        let per_litre = |k: f64| rounded(k * M3_PER_L, 3);
        number(text, "pulses_per_litre", per_litre(point.k_factor_per_m3));
        number(text, "std_uncertainty", per_litre(point.u_k_factor_per_m3));
        number(text, "residual", per_litre(point.residual_per_m3));
    }
    text.push_str("\n[meter_fit]\n");
    number(text, "at_frequency_hz", rounded(meter.frequency_hz, 3));
    number(text, "lowest_hz", rounded(meter.fit.range_hz.0, 3));
    number(text, "highest_hz", rounded(meter.fit.range_hz.1, 3));
    number(
        text,
        "change_over_range_pct",
        rounded(100.0 * meter.slip_ratio, 3),
    );
    if let Some(scatter) = meter.fit.scatter_ratio {
        number(text, "scatter_pct", rounded(100.0 * scatter, 3));
    }
}

/// One row a source: what it adds to the standard uncertainty of the result.
fn budget(text: &mut String, of: &str, budget: &Budget, scale: f64) {
    for (index, row) in budget.rows.iter().enumerate() {
        text.push_str("\n[[budget]]\n");
        line(text, "of", &format!("\"{of}\""));
        line(text, "source", &format!("\"{}\"", row.code));
        number(text, "contribution", rounded(row.contribution() * scale, 6));
        number(
            text,
            "share_pct",
            rounded(100.0 * budget.share_of(index), 1),
        );
        let evaluation = match row.evaluation {
            Evaluation::A => "\"A\"",
            Evaluation::B => "\"B\"",
        };
        line(text, "evaluation", evaluation);
        if let Some(dof) = row.dof {
            number(text, "degrees_of_freedom", rounded(dof, 1));
        }
    }
}

fn line(text: &mut String, key: &str, value: &str) {
    // Writing into a string cannot fail.
    let _ = writeln!(text, "{key} = {value}");
}

fn number(text: &mut String, key: &str, value: f64) {
    let shown = decimal(value);
    if !shown.is_empty() {
        line(text, key, &shown);
    }
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (value * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibrate::entries::{CatchEntry, Entries, Indication};
    use crate::calibrate::result::compute;
    use crate::recording::settings;

    const NOON: Moment = Moment {
        unix_s: 1.7e9,
        utc_offset_s: 3_600.0,
    };

    fn calibration() -> Calibration {
        let zero = |indicated_pa| {
            Some(Indication {
                indicated_pa,
                u_indicated_pa: 300.0,
            })
        };
        let entries = Entries {
            operator: "AB".to_owned(),
            relieved: true,
            zero: zero(1.2e4),
            zero_after: zero(1.4e4),
            catches: [(400.0, 1_000), (600.0, 1_503), (900.0, 2_251)]
                .map(|(g, n_edges)| CatchEntry {
                    caught_kg: g * 1.0e-3,
                    n_edges,
                    duration_s: 30.0,
                })
                .to_vec(),
            ..Entries::default()
        };
        compute(&entries, None).unwrap()
    }

    #[test]
    fn the_lines_for_a_session_are_read_by_one_as_they_stand() {
        let calibration = calibration();
        let text = text(&calibration, Some(0x7F3A), NOON);
        let settings = settings::read(text.as_bytes()).unwrap();
        let meter = settings.flow_meter;
        let k = calibration.meter.unwrap().k_factor_per_m3.value;
        assert!((meter.k_factor_per_m3.unwrap() / k - 1.0).abs() < 1e-6);
        assert!(meter.u_k_factor_ratio.unwrap() > 0.0);
        assert!((settings.pressure_sensor.zero_pa.unwrap() - 1.3e4).abs() < 1.0);
        assert_eq!(settings.date.as_deref(), Some("2023-11-14"));
        for part in [
            "operator = \"AB\"",
            "device_id = \"7F3A\"",
            "[[budget]]",
            "drift_bar = 0.02",
        ] {
            assert!(text.contains(part), "{part} in\n{text}");
        }
        assert!(text.parse::<toml::Table>().is_ok());
    }

    #[test]
    fn an_earlier_calibration_of_the_same_second_is_kept() {
        let folder =
            std::env::temp_dir().join(format!("tipcurve-calibration-{}", std::process::id()));
        let first = write(&calibration(), None, NOON, &folder).unwrap();
        let before = std::fs::read(&first).unwrap();
        let second = write(&calibration(), Some(1), NOON, &folder).unwrap();
        assert!(
            first.ends_with("calibration-2023-11-14-231320.toml"),
            "{first:?}"
        );
        assert!(second.ends_with("calibration-2023-11-14-231320-2.toml"));
        assert_eq!(std::fs::read(&first).unwrap(), before);
        let blocked = write(&calibration(), None, NOON, &first)
            .unwrap_err()
            .to_string();
        assert!(blocked.contains("nothing was written"), "{blocked}");
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
