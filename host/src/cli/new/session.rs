//! The text of a `session.toml` with its comments, from answers or from an earlier one.

use std::fmt::Write as _;
use std::path::Path;

use crate::cli::Stop;
use crate::cli::args::NewArgs;
use crate::cli::local;
use crate::recording::fault::FileFaults;
use crate::recording::folder;
use crate::recording::settings::{self, RATING_BAR};
use crate::units::{PA_PER_BAR, PA_PER_PSI};

/// What was answered; `None` or empty leaves an example as a comment.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::cli) struct Answers {
    pub(super) rig: Option<String>,
    pub(super) working_pressure_bar: Option<f64>,
    pub(super) full_scale_bar: Option<f64>,
    pub(super) pulses_per_litre: Option<f64>,
    pub(super) materials: Vec<String>,
    pub(super) tips: Vec<String>,
}

impl Answers {
    /// What the options say.
    pub(super) fn given(args: &NewArgs) -> Result<Self, Stop> {
        for (option, value) in [
            ("--working-pressure", args.working_pressure),
            ("--full-scale", args.full_scale),
            ("--pulses-per-litre", args.pulses_per_litre),
        ] {
            if value.is_some_and(|v| !(v > 0.0 && v.is_finite())) {
                return Err(Stop::bad_input(format!(
                    "{option} must be a number above zero; nothing was made"
                )));
            }
        }
        for (option, value) in [
            ("--working-pressure", args.working_pressure),
            ("--full-scale", args.full_scale),
        ] {
            if let Some(bar) = value.filter(|bar| *bar < RATING_BAR.0) {
                return Err(Stop::bad_input(format!(
                    "{option} {bar}: less bar than any rig or sensor has; MPa were meant? {bar} MPa are {:.0} bar; \
                     nothing was made",
                    10.0 * bar
                )));
            }
            if let Some(bar) = value.filter(|bar| *bar > RATING_BAR.1) {
                return Err(Stop::bad_input(format!(
                    "{option} {bar}: more bar than any rig has; psi were meant? {bar} psi are {:.0} bar; nothing was made",
                    bar * PA_PER_PSI / PA_PER_BAR
                )));
            }
        }
        Ok(Self {
            rig: args.rig.clone(),
            working_pressure_bar: args.working_pressure,
            full_scale_bar: args.full_scale,
            pulses_per_litre: args.pulses_per_litre,
            materials: args.material.clone(),
            tips: args.tip.clone(),
        })
    }
}

/// A session file with nothing but its date, for `record` without `new`.
pub(in crate::cli) fn bare(now_unix_s: f64, offset_s: f64) -> String {
    text(&Answers::default(), now_unix_s, offset_s)
}

/// The whole file.
pub(in crate::cli) fn text(answers: &Answers, now_unix_s: f64, offset_s: f64) -> String {
    let mut text = String::new();
    let _ = write!(
        text,
        "# What does not change during this recording. Every number has its unit in its key's name.\n\
         # Lines that begin with # are comments and examples: take the # away to use one.\n\n\
         date = \"{}\"\n",
        local::date(now_unix_s, offset_s)
    );
    put(
        &mut text,
        "rig",
        answers.rig.as_deref().map(quoted),
        "\"bench pump, 15 m hose\"",
    );
    text.push_str(
        "# Where the pressure sensor sits: \"pump_outlet\", or \"gun_inlet\" behind the hose.\n\
         tap = \"pump_outlet\"\n\n\
         # The meter's constant, from its sheet or better from tipcurve calibrate. Without an\n\
         # uncertainty it counts as the maker's nominal, and the report says so.\n\
         [flow_meter]\n",
    );
    put(
        &mut text,
        "pulses_per_litre",
        answers.pulses_per_litre.map(shown),
        "2500.0",
    );
    text.push_str(
        "# std_uncertainty_pct = 0.5\n# lowest_calibrated_hz = 3.0\n\n\
         # Accuracy as its sheet gives it: two standard deviations, in percent of full scale.\n\
         [pressure_sensor]\n",
    );
    put(
        &mut text,
        "full_scale_bar",
        answers.full_scale_bar.map(shown),
        "400.0",
    );
    text.push_str(
        "# accuracy_pct_of_full_scale = 0.5\n\n\
         # What the rig may and can do. The lowest rating of pump, hose, gun and fittings counts.\n\
         [limits]\n",
    );
    put(
        &mut text,
        "working_pressure_bar",
        answers.working_pressure_bar.map(shown),
        "210.0",
    );
    text.push_str(
        "# power_w = 600.0\n# battery_v = 18.0\n# battery_ah = 5.0\n# hose_length_m = 15.0\n\
         # hose_bore_mm = 6.3\n\n\
         # One block a coating. The label's limits keep the report from advising beyond them.\n",
    );
    blocks(
        &mut text,
        "material",
        "name",
        &answers.materials,
        "hull primer",
        &[
            "density_kg_m3 = 1350.0",
            "volume_solids_pct = 55.0",
            "max_thinner_pct = 10.0",
            "max_pressure_bar = 200.0",
            "max_temperature_c = 30.0",
        ],
    );
    text.push_str("# One block a tip, as stamped.\n");
    blocks(
        &mut text,
        "tip",
        "code",
        &answers.tips,
        "415",
        &[
            "orifice_thou = 15.0",
            "fan_width_mm = 200.0",
            "reference_distance_mm = 300.0",
            "family = \"standard\"",
            "hours_used_h = 0.0",
        ],
    );
    text
}

/// An earlier session file with today's date, without its start and without anything else changed.
pub(in crate::cli) fn from_earlier(
    earlier: &Path,
    now_unix_s: f64,
    offset_s: f64,
) -> Result<String, Stop> {
    let path = if earlier.is_dir() {
        earlier.join(folder::SESSION)
    } else {
        earlier.to_owned()
    };
    let refused = |faults| {
        let file = path.display().to_string();
        Stop::bad_input(format!("{}; nothing was made", FileFaults { file, faults }))
    };
    let bytes = folder::read_limited(&path, folder::MOST_SESSION_MIB).map_err(refused)?;
    settings::read(&bytes).map_err(refused)?;
    let date = format!("date = \"{}\"", local::date(now_unix_s, offset_s));
    let mut has_date = false;
    let mut lines: Vec<String> = Vec::new();
    let mut is_top = true;
    for line in String::from_utf8_lossy(&bytes).lines() {
        is_top &= !line.trim_start().starts_with('[');
        let key = line.split('=').next().unwrap_or("").trim();
        match key {
            "date" if is_top => {
                has_date = true;
                lines.push(date.clone());
            }
            // When logger time was zero belongs to that recording; so does its being invented.
            "started_at" if is_top => {}
            _ => lines.push(line.to_owned()),
        }
    }
    if !has_date {
        lines.insert(0, date);
    }
    Ok(lines.join("\n") + "\n")
}

/// The text with the flow-meter and sensor lines of a calibration file in place of its own.
pub(in crate::cli) fn with_calibration(text: &str, file: &Path) -> Result<String, Stop> {
    let refused = |faults| {
        let file = file.display().to_string();
        Stop::bad_input(format!("{}; nothing was made", FileFaults { file, faults }))
    };
    let bytes = folder::read_limited(file, folder::MOST_SESSION_MIB).map_err(refused)?;
    settings::read(&bytes).map_err(refused)?;
    let table: toml::Table = String::from_utf8_lossy(&bytes)
        .parse()
        .map_err(|e| Stop::bad_input(format!("{}: {e}; nothing was made", file.display())))?;
    let mut new = text.to_owned();
    let mut is_calibration = false;
    for name in ["flow_meter", "pressure_sensor"] {
        if let Some(lines) = table.get(name).and_then(toml::Value::as_table) {
            is_calibration = true;
            new = with_lines(&new, name, lines, &folder::name_of(file));
        }
    }
    if is_calibration {
        return Ok(new);
    }
    Err(Stop::bad_input(format!(
        "{}: neither [flow_meter] nor [pressure_sensor] is in it; it is not a calibration file; nothing was \
         made",
        file.display()
    )))
}

/// The text with keys of one table set; other keys and comments of the table stay.
fn with_lines(text: &str, name: &str, lines: &toml::Table, from: &str) -> String {
    let header = format!("[{name}]");
    let mut set = format!("{header}\n# From {from}.\n");
    for (key, value) in lines {
        // Writing into a string cannot fail.
        let _ = writeln!(set, "{key} = {value}");
    }
    let Some(start) = text.lines().position(|line| line.trim() == header) else {
        return format!("{text}\n{set}");
    };
    let is_header = |line: &str| line.trim_start().starts_with('[');
    let mut new = String::new();
    let mut is_inside = false;
    for (index, line) in text.lines().enumerate() {
        if index == start {
            is_inside = true;
            new.push_str(&set);
            continue;
        }
        is_inside &= !is_header(line);
        let key = line.split('=').next().unwrap_or("").trim();
        let is_old = key.trim_start_matches(['#', ' ']);
        if is_inside && line.contains('=') && lines.contains_key(is_old) {
            continue;
        }
        new.push_str(line);
        new.push('\n');
    }
    new
}

fn put(text: &mut String, key: &str, value: Option<String>, example: &str) {
    let _ = match value {
        Some(value) => writeln!(text, "{key} = {value}"),
        None => writeln!(text, "# {key} = {example}"),
    };
}

fn blocks(
    text: &mut String,
    table: &str,
    key: &str,
    names: &[String],
    example: &str,
    lines: &[&str],
) {
    for name in names {
        let _ = write!(text, "[[{table}]]\n{key} = {}\n", quoted(name));
        for line in lines {
            let _ = writeln!(text, "# {line}");
        }
        text.push('\n');
    }
    if names.is_empty() {
        let _ = write!(text, "# [[{table}]]\n# {key} = \"{example}\"\n");
        for line in lines {
            let _ = writeln!(text, "# {line}");
        }
        text.push('\n');
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A number that stays a float in TOML.
fn shown(value: f64) -> String {
    toml::Value::Float(value).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answers() -> Answers {
        Answers {
            rig: Some("the \"old\" pump".to_owned()),
            working_pressure_bar: Some(210.0),
            full_scale_bar: Some(400.0),
            pulses_per_litre: Some(2500.0),
            materials: vec!["hull primer".to_owned(), "cabin enamel".to_owned()],
            tips: vec!["209".to_owned(), "415".to_owned()],
        }
    }

    #[test]
    fn what_was_answered_is_what_the_program_reads() {
        let text = text(&answers(), 1.0e9, 0.0);
        let settings = settings::read(text.as_bytes()).unwrap();
        assert_eq!(settings.rig.as_deref(), Some("the \"old\" pump"));
        assert_eq!(settings.limits.working_pressure_pa, Some(2.1e7));
        assert_eq!(settings.materials.len(), 2);
        assert_eq!(settings.tips[1].code, "415");
        assert!(
            settings.unknown_keys.is_empty(),
            "{:?}",
            settings.unknown_keys
        );
        assert_eq!(settings.date.as_deref(), Some("2001-09-09"));
    }

    #[test]
    fn every_example_is_a_line_that_works_when_its_mark_is_taken_away() {
        let text = bare(1.0e9, 0.0);
        assert!(settings::read(text.as_bytes()).is_ok());
        let open: String = text
            .lines()
            .map(|line| match line.strip_prefix("# ") {
                Some(code) if code.contains(" = ") || code.starts_with("[[") => code,
                _ => line,
            })
            .flat_map(|line| [line, "\n"])
            .collect();
        let settings = settings::read(open.as_bytes()).unwrap();
        assert_eq!(settings.tips[0].code, "415");
        assert!(
            settings.unknown_keys.is_empty(),
            "{:?}",
            settings.unknown_keys
        );
    }

    #[test]
    fn a_calibration_takes_the_place_of_its_own_lines_only() {
        let text = text(&answers(), 1.0e9, 0.0);
        let file = "operator = \"AB\"\n[flow_meter]\npulses_per_litre = 2512.0\nstd_uncertainty_pct = 0.4\n\
                    [pressure_sensor]\nzero_bar = 0.12\ngain = 1.01\n";
        let path = std::env::temp_dir().join(format!("tipcurve-cal-{}.toml", std::process::id()));
        std::fs::write(&path, file).unwrap();
        let new = with_calibration(&text, &path).unwrap();
        let settings = settings::read(new.as_bytes()).unwrap();
        assert!((settings.flow_meter.k_factor_per_m3.unwrap() - 2.512e6).abs() < 1e-3);
        assert_eq!(settings.pressure_sensor.full_scale_pa, Some(4.0e7));
        assert_eq!(settings.pressure_sensor.gain_ratio, Some(1.01));
        assert_eq!(settings.limits.working_pressure_pa, Some(2.1e7));
        assert!(new.contains("# Accuracy as its sheet gives it"));
        assert!(new.contains("# From tipcurve-cal-"));
        // Taken over a second time, the second stands alone.
        std::fs::write(&path, file.replace("2512.0", "2498.0")).unwrap();
        let again = with_calibration(&new, &path).unwrap();
        let k = settings::read(again.as_bytes())
            .unwrap()
            .flow_meter
            .k_factor_per_m3;
        assert!((k.unwrap() - 2.498e6).abs() < 1e-3);
        std::fs::write(&path, "date = \"2026-01-01\"\n").unwrap();
        let refused = with_calibration(&text, &path).unwrap_err().message;
        assert!(
            refused.contains("it is not a calibration file"),
            "{refused}"
        );
        std::fs::remove_file(&path).unwrap();
    }
}
