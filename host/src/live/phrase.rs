//! Sentences whose numbers keep their unit open until a reader has chosen one.
//!
//! The page of one viewer shows bar and that of another psi, from the same snapshot: a phrase
//! is text with quantities in SI between. It is shown as text only, never as markup.

use serde::{Deserialize, Serialize};

use crate::units::UnitChoice;
use crate::units::{CubicMetrePerSecond, Pascal};

/// One piece of a phrase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Words.
    Text(String),
    /// A gauge pressure, Pa.
    PressurePa(f64),
    /// A small pressure, Pa: shown with two more decimals.
    FinePressurePa(f64),
    /// A volume flow rate, m3/s.
    FlowM3PerS(f64),
    /// A ratio shown in percent.
    Ratio(f64),
}

/// A sentence in pieces.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Phrase(pub Vec<Part>);

impl Phrase {
    /// A phrase of words alone.
    #[must_use]
    pub fn text(words: impl Into<String>) -> Self {
        Self(vec![Part::Text(words.into())])
    }

    /// The phrase with more words.
    #[must_use]
    pub fn and(mut self, words: impl Into<String>) -> Self {
        self.0.push(Part::Text(words.into()));
        self
    }

    /// The phrase with a pressure, Pa.
    #[must_use]
    pub fn pressure(mut self, pressure_pa: f64) -> Self {
        self.0.push(Part::PressurePa(pressure_pa));
        self
    }

    /// The phrase with a small pressure or an uncertainty of one, Pa.
    #[must_use]
    pub fn fine_pressure(mut self, pressure_pa: f64) -> Self {
        self.0.push(Part::FinePressurePa(pressure_pa));
        self
    }

    /// The phrase with a flow, m3/s.
    #[must_use]
    pub fn flow(mut self, flow_m3_per_s: f64) -> Self {
        self.0.push(Part::FlowM3PerS(flow_m3_per_s));
        self
    }

    /// The phrase with a ratio, 0 to 1.
    #[must_use]
    pub fn ratio(mut self, ratio: f64) -> Self {
        self.0.push(Part::Ratio(ratio));
        self
    }

    /// The sentence in one reader's units, for a terminal.
    #[must_use]
    pub fn in_units(&self, units: UnitChoice) -> String {
        self.0
            .iter()
            .map(|part| match part {
                Part::Text(words) => words.clone(),
                Part::PressurePa(pa) => pressure_text(*pa, 0, units),
                Part::FinePressurePa(pa) => pressure_text(*pa, 2, units),
                Part::FlowM3PerS(flow) => {
                    let number = units.flow.from_m3_per_s(CubicMetrePerSecond(*flow));
                    format!("{number:.2} {}", units.flow.symbol())
                }
                Part::Ratio(ratio) => format!("{:.0} %", ratio * 100.0),
            })
            .collect()
    }
}

fn pressure_text(pa: f64, more_decimals: usize, units: UnitChoice) -> String {
    let number = units.pressure.from_pascal(Pascal(pa));
    let decimals = pressure_decimals(units.pressure.in_pa()) + more_decimals;
    format!("{number:.decimals$} {}", units.pressure.symbol())
}

/// Decimals that show a bench pressure to about a tenth of a bar, whatever the unit.
#[must_use]
pub fn pressure_decimals(unit_in_pa: f64) -> usize {
    if unit_in_pa < 5.0e4 {
        0
    } else if unit_in_pa < 5.0e5 {
        1
    } else {
        2
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{FlowUnit, OrificeUnit, PressureUnit};

    #[test]
    fn one_phrase_reads_in_each_readers_units() {
        let phrase = Phrase::text("tails up to ")
            .pressure(9.2e6)
            .and(" at ")
            .flow(1.0e-5);
        assert_eq!(
            phrase.in_units(UnitChoice::default()),
            "tails up to 92.0 bar at 0.60 L/min"
        );
        let american = UnitChoice {
            pressure: PressureUnit::Psi,
            flow: FlowUnit::UsGallonPerMinute,
            orifice: OrificeUnit::Thou,
        };
        assert_eq!(
            phrase.in_units(american),
            "tails up to 1334 psi at 0.16 US gal/min"
        );
    }
}
