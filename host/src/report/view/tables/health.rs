//! Defects of the recording, and the instruments it was made with.

use super::nothing;
use crate::findings::Findings;
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, quoted, say};
use crate::report::view::table::{Row, Table, numbers, words};
use crate::report::wording::{capitalised, count, defect_magnitude, defect_name, humanise};

/// One row a defect, of the sensors first, then of the files.
pub(super) fn health(f: &Findings, show: Show) -> Table {
    let sensors = f.defects.iter().enumerate().map(|(i, d)| {
        let key = |member: &str| format!("/defects/{i}/{member}");
        let size = d.magnitude.zip(defect_magnitude(d.kind));
        Row {
            id: String::new(),
            is_quiet: false,
            cells: vec![
                Sentence::from(defect_name(d.kind)),
                show.bare_fixed(Kind::Time, d.from_s, 1, key("from_s"))
                    .into(),
                show.bare_fixed(Kind::Time, d.to_s, 1, key("to_s")).into(),
                size.map_or_else(nothing, |(m, kind)| show.plain(kind, m, key("magnitude"))),
                Sentence::from(if d.is_fatal { "yes" } else { "no" }),
                quoted(&d.consequence).into(),
            ],
        }
    });
    let files = f.load_defects.iter().enumerate().map(|(i, d)| {
        let time = |value: Option<f64>, member: &str| {
            value.map_or_else(nothing, |t| {
                show.bare_fixed(Kind::Time, t, 1, format!("/load_defects/{i}/{member}"))
                    .into()
            })
        };
        Row {
            id: String::new(),
            is_quiet: false,
            cells: vec![
                Sentence::from(capitalised(&humanise(&d.code))),
                time(d.range_s.map(|r| r.0), "from_s"),
                time(d.range_s.map(|r| r.1), "to_s"),
                nothing(),
                Sentence::from("no"),
                quoted(&d.message).into(),
            ],
        }
    });
    Table {
        id: "health",
        title: "Health of the recording",
        caption: Sentence::from(
            "What is wrong or missing, and what became of it. Nothing is dropped silently.",
        ),
        columns: vec![
            words("What"),
            numbers("From", "s"),
            numbers("To", "s"),
            numbers("How much", ""),
            words("Spoils results"),
            words("Consequence"),
        ],
        rows: sensors.chain(files).collect(),
    }
}

/// What the recording was made with.
pub(super) fn instruments(f: &Findings, show: Show) -> Table {
    let meter = &f.signal.flow_meter;
    let sensor = &f.signal.pressure_sensor;
    let limits = &f.settings.limits;
    let mut rows: Vec<(&'static str, Sentence)> = vec![
        (
            "Pressure zero taken off",
            show.plus_minus(
                Kind::Pressure,
                (
                    f.zero_pa.value,
                    "/recording/pressure_sensor/zero_pa/value".to_owned(),
                ),
                (
                    f.zero_pa.expanded_95(),
                    "/recording/pressure_sensor/zero_pa/expanded_95".to_owned(),
                ),
            ),
        ),
        (
            "Flow meter",
            say![
                show.plain(
                    Kind::PerLitre,
                    1.0 / meter.pulse_volume_m3,
                    "/recording/flow_meter/k_factor_per_m3"
                ),
                " \u{b1} ",
                show.plain(
                    Kind::Percent,
                    2.0 * meter.u_pulse_volume_ratio,
                    "/recording/flow_meter/expanded_95_pulse_volume_ratio"
                ),
                if meter.is_nominal {
                    ", maker's nominal, never calibrated"
                } else {
                    ", calibrated"
                }
            ],
        ),
        (
            "Readings",
            count(show, f.signal.t_s.len(), "/recording/n_samples"),
        ),
    ];
    let mut optional = |name, kind, value: Option<f64>, key: &str| {
        if let Some(v) = value.filter(|v| v.is_finite()) {
            rows.push((name, show.plain(kind, v, format!("/recording/{key}"))));
        }
    };
    optional(
        "Sensor's full scale",
        Kind::Pressure,
        sensor.full_scale_pa,
        "pressure_sensor/full_scale_pa",
    );
    optional(
        "Lowest rated working pressure",
        Kind::Pressure,
        limits.working_pressure_pa,
        "limits/working_pressure_pa",
    );
    optional(
        "Electrical power",
        Kind::Power,
        limits.power_w,
        "limits/power_w",
    );
    optional(
        "Battery, nominal",
        Kind::Voltage,
        limits.battery_v,
        "limits/battery_v",
    );
    Table {
        id: "instruments",
        title: "Instruments and limits",
        caption: Sentence::default(),
        columns: vec![words("What"), words("Value")],
        rows: rows
            .into_iter()
            .map(|(name, value)| Row {
                id: String::new(),
                is_quiet: false,
                cells: vec![Sentence::from(name), value],
            })
            .collect(),
    }
}
