//! Why there is no answer: refusals of a curve and the reasons of an undetermined verdict.

use super::super::number::Kind;
use super::super::number::Show;
use super::super::piece::{Sentence, quoted, say};
use super::exclusion::count;
use super::{Subject, capitalised, humanise};
use crate::analysis::nozzle_curve::CurveRefusal;

/// Why a group has no nozzle curve; `key` points to its `curve_refusal` in the JSON.
pub(crate) fn refusal(show: Show, refusal: &CurveRefusal, key: &str) -> Sentence {
    let at = |member: &str| format!("{key}/{member}");
    match refusal {
        CurveRefusal::NoPoints => {
            Sentence::from("No curve: no usable burst. Record bursts at three pressures.")
        }
        CurveRefusal::TooFewPressures {
            distinct_pa,
            needed,
            suggest_pa,
        } => say![
            "No curve: ",
            count(show, distinct_pa.len(), at("n_distinct")),
            if distinct_pa.len() == 1 {
                " distinct pressure, "
            } else {
                " distinct pressures, "
            },
            count(show, *needed, at("needed_pressures")),
            " are needed. Record one burst near ",
            show.setting(*suggest_pa, None, at("suggest_pa")),
            "."
        ],
        CurveRefusal::NarrowRange {
            ratio,
            needed,
            suggest_pa,
        } => say![
            "No curve: the highest pressure is only ",
            show.plain(Kind::Plain, *ratio, at("pressure_ratio")),
            " times the lowest, ",
            show.plain(Kind::Plain, *needed, at("needed_ratio")),
            " is needed. Record one burst near ",
            show.setting(*suggest_pa, None, at("suggest_pa")),
            "."
        ],
        CurveRefusal::TemperatureChanged { low_k, high_k } => say![
            "No curve: the coating went from ",
            show.plain(Kind::Temperature, *low_k, at("low_k")),
            " to ",
            show.plain(Kind::Temperature, *high_k, at("high_k")),
            " inside the group. Record all pressures at one temperature."
        ],
        CurveRefusal::Inconsistent { scatter_ratio } => say![
            "No curve: the points scatter by ",
            show.plain(Kind::Percent, *scatter_ratio, at("scatter_ratio")),
            ", far more than the instruments do. A tip, a unit or a coating changed without a note."
        ],
        CurveRefusal::ImplausibleExponent { n, low, high } => say![
            "No curve: the exponent comes out as ",
            show.plain(Kind::Plain, *n, at("n")),
            ", and a real tip lies between ",
            show.plain(Kind::Plain, *low, at("least_n")),
            " and ",
            show.plain(Kind::Plain, *high, at("greatest_n")),
            ". Something else changed together with the pressure."
        ],
        CurveRefusal::NotPositive { burst_index } => say![
            "No curve: burst ",
            count(show, burst_index + 1, at("burst_number")),
            " has a pressure or flow that is not above zero. Check sensor and meter."
        ],
        CurveRefusal::NotFitted { what } => {
            say![
                "No curve: the fit did not settle on these numbers (",
                quoted(what),
                ")."
            ]
        }
    }
}

/// A reason code of an undetermined or empty verdict, as a sentence.
pub(crate) fn because(s: &Subject, code: &str) -> Sentence {
    let fixed = match code {
        "pressure_scale_changed" => {
            "The pressure readings change scale within the recording, as when a unit is switched."
        }
        "pressure_beyond_sensor" => {
            "The pressures lie far above what the sensor can read, as when psi or kPa are written into a column of bar."
        }
        "pressure_saturated" => {
            "The pressure sensor is at the top of its range: the true pressure is higher."
        }
        "pressure_stuck" => "The pressure reading stands still while the flow starts and stops.",
        "readings_not_sound" => {
            "The readings of this setting are not sound; see the table of defects."
        }
        "notes_not_placed" => {
            "The notes fit the bursts in more than one way, and the ways lead to different answers."
        }
        "too_few_pressures"
        | "narrow_range"
        | "temperature_changed"
        | "no_points"
        | "points_inconsistent"
        | "curve_not_fitted" => {
            return match &s.group.curve {
                Err(refused) => refusal(s.show, refused, &s.group_key("curve_refusal")),
                Ok(_) => Sentence::from(capitalised(&humanise(code)) + "."),
            };
        }
        "nozzle_curve_rose" => {
            "More flows than earlier at the same pressure: a worn tip, or a blockage that came free."
        }
        "supply_voltage_not_logged" => {
            "The rig holds less than earlier, but its battery voltage was not logged: battery and inlet \
             cannot be told apart."
        }
        "tails_not_graded" => {
            "No burst has a tail grade: without one nobody knows where the fan is even."
        }
        "window_edge_within_uncertainty" => {
            "The lowest tail-free pressure and the highest that the rig holds lie within their uncertainty."
        }
        "full_dial_not_tried" => "The rig was not tried at its full control position.",
        "stalled_pressure_not_seen" => {
            "The pressure before the trigger opens was not seen, so its drop while spraying is not known."
        }
        "atomisation_or_supply" => {
            "Tails at full pressure, with some drop in pressure: a coating too thick and a pump too \
             weak both fit, and they ask for opposite tips."
        }
        "no_rule_applies" => "The numbers fit none of the known causes.",
        other => return Sentence::from(capitalised(&humanise(other)) + "."),
    };
    Sentence::from(fixed)
}
