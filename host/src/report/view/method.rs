//! How the numbers were found: formulas with their sources, and the limits of decision.

use crate::analysis::dew_point::MARGIN_K;
use crate::analysis::thresholds as limit;
use crate::findings::Findings;
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, say};

/// One part of the method.
pub(crate) struct MethodItem {
    /// Heading.
    pub(crate) heading: &'static str,
    /// The formula, set apart; empty for none.
    pub(crate) formula: &'static str,
    /// Words.
    pub(crate) text: Sentence,
    /// Where it is from.
    pub(crate) source: &'static str,
}

fn rule(show: Show, kind: Kind, value: f64, name: &str) -> Sentence {
    show.plain(kind, value, format!("/rules/{name}"))
}

/// All parts, in the order of the computation.
pub(super) fn method(_f: &Findings, show: Show) -> Vec<MethodItem> {
    let item = |heading, formula, text, source| MethodItem {
        heading,
        formula,
        text,
        source,
    };
    vec![
        item(
            "Uncertainty",
            "U = k \u{221a}(u\u{b2}(independent) + u\u{b2}(common))",
            Sentence::from(
                "Noise and calibration are kept apart to the end: noise averages out, calibration shifts all \
                 points alike. \u{b1} and intervals on this page cover 95 %; a number is shown no finer than \
                 its uncertainty.",
            ),
            "JCGM 100:2008 (GUM), 5.1.2, 7.2.6 and annex G",
        ),
        item(
            "Steady means",
            "q = (edges \u{2212} 1) \u{b7} V / (t(last) \u{2212} t(first))",
            Sentence::from(
                "Flow from the times of the meter's pulse edges, V being the volume of one pulse; pressure over \
                 whole pump strokes, its uncertainty from means of whole strokes. The opening and the closing of the \
                 trigger are left out.",
            ),
            "Law, Simulation Modeling and Analysis, 9.5",
        ),
        item(
            "Nozzle curve",
            "q = q_ref (p / p_ref)^n",
            Sentence::from(
                "Fitted on logarithms with uncertainty in both coordinates; p = a q + b q\u{b2} beside it, the form \
                 chosen by AICc. n is near 0.5 for a turbulent orifice and rises towards 1 with viscosity.",
            ),
            "York et al., Am. J. Phys. 72 (2004) 367; Hurvich and Tsai, Biometrika 76 (1989) 297",
        ),
        item(
            "Equivalent orifice",
            "q = C A \u{221a}(2 p / \u{3c1})",
            say![
                "The diameter of the hole that would pass the same flow at a nominal discharge coefficient of ",
                rule(
                    show,
                    Kind::Plain,
                    limit::DISCHARGE_COEFFICIENT,
                    "discharge_coefficient"
                ),
                " (\u{b1} ",
                rule(
                    show,
                    Kind::Percent,
                    2.0 * limit::U_DISCHARGE_COEFFICIENT_RATIO,
                    "expanded_95_discharge_coefficient_ratio"
                ),
                "). Called worn above ",
                rule(
                    show,
                    Kind::Percent,
                    limit::WORN_ORIFICE_RATIO,
                    "worn_orifice_ratio"
                ),
                " of the stamped diameter."
            ],
            "ISO 5167-2 for the lower end of the coefficient",
        ),
        item(
            "Supply curve",
            "p \u{b7} q = constant where power is used up",
            say![
                "The highest pressure held against flow: first the control's set point, then constant power, then the \
                 strokes. Sag below ",
                rule(
                    show,
                    Kind::Percent,
                    limit::SAG_HOLDS_RATIO,
                    "sag_holds_ratio"
                ),
                " counts as holding, above ",
                rule(
                    show,
                    Kind::Percent,
                    limit::SAG_FAILS_RATIO,
                    "sag_fails_ratio"
                ),
                " as failing."
            ],
            "derived; limits are common practice, no source",
        ),
        item(
            "Lowest tail-free pressure",
            "logit P(no tails) = (ln p \u{2212} ln p_clear) / s",
            say![
                "From the graded bursts, interval by profile likelihood; never beyond the pressures that were graded. The \
                 pressure to set adds a margin of ",
                rule(show, Kind::Percent, limit::MARGIN_RATIO, "margin_ratio"),
                " or the upper end of the interval, inside the window."
            ],
            "cumulative logit: McCullagh, J. R. Stat. Soc. B 42 (1980) 109",
        ),
        item(
            "What counts as moved",
            "",
            say![
                "Flow at one pressure below ",
                rule(
                    show,
                    Kind::Percent,
                    limit::RESTRICTED_FLOW_RATIO,
                    "restricted_flow_ratio"
                ),
                " of its earlier value, or pressure held below ",
                rule(
                    show,
                    Kind::Percent,
                    limit::SUPPLY_FELL_RATIO,
                    "supply_fell_ratio"
                ),
                " of its earlier value, and more than the uncertainty. Two coating temperatures are two states from ",
                rule(
                    show,
                    Kind::TemperatureDifference,
                    limit::TEMPERATURE_STEP_K,
                    "temperature_step_k"
                ),
                " on."
            ],
            "limits with their reasons stand in the program's source, analysis/thresholds.rs",
        ),
        item(
            "Clock, dew point, catches",
            "",
            say![
                "The host's clock runs under the earliest arrivals of the logger's frames, since none comes early. A \
                 surface must be ",
                rule(
                    show,
                    Kind::TemperatureDifference,
                    MARGIN_K,
                    "condensation_margin_k"
                ),
                " warmer than the dew point of the air. A timed catch is weighed against the meter's own flow of that pull."
            ],
            "Moon, Skelly and Towsley, INFOCOM 1999; WMO-No. 8 (2018), annex 4.B; ISO 8502-4",
        ),
        item(
            "Verdict",
            "",
            say![
                "A table of rules, read from the top; the first that speaks decides. Below a probability of ",
                rule(
                    show,
                    Kind::Percent,
                    limit::DECIDE_PROBABILITY,
                    "decide_probability"
                ),
                " the answer is \u{201c}undetermined\u{201d} and the next trial is named."
            ],
            "this program",
        ),
    ]
}
