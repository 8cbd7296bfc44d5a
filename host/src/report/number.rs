//! Numbers as they are shown: rounded to their uncertainty, in the reader's unit, with the SI value kept.
//!
//! JCGM 100:2008, 7.2.6: an uncertainty is quoted to at most two significant digits and the value to the
//! same place. Here: two digits when the first is a 1 or a 2, one digit otherwise. A number without
//! an uncertainty is shown to three digits. What is not finite is never shown. No sentences here.

mod digits;

use super::piece::{Number, Piece, Sentence, say};
use crate::estimate::Estimate;
use crate::units::{
    CubicMetrePerSecond, FlowUnit, Kelvin, Metre, OrificeUnit, Pascal, PressureUnit, UnitChoice,
};

use digits::decimals_for_digits;
pub(crate) use digits::{decimals_for_uncertainty, format_fixed, setting_decimals};

/// Shown where there is no number.
const NONE: &str = "\u{2013}";
/// A narrow space that does not break, between a number and its unit.
pub(crate) const NBSP: char = '\u{a0}';

/// What kind of quantity a number is: decides its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Gauge pressure or a difference of pressures.
    Pressure,
    /// Volume flow.
    Flow,
    /// Absolute temperature, K to degrees Celsius.
    Temperature,
    /// Difference of temperatures, K.
    TemperatureDifference,
    /// Orifice diameter.
    Orifice,
    /// Film thickness.
    Film,
    /// A share, shown in percent.
    Percent,
    /// A factor or exponent without unit.
    Plain,
    /// Time or duration.
    Time,
    /// Frequency.
    Frequency,
    /// A longer duration, s to minutes.
    Minutes,
    /// Charge, A s to ampere-hours.
    Charge,
    /// Resistance, ohm to milliohm.
    Resistance,
    /// Voltage.
    Voltage,
    /// Power.
    Power,
    /// Hand speed.
    Speed,
    /// Pulses per litre.
    PerLitre,
    /// Pressure per flow, the linear term of the two-term form.
    LinearTerm,
    /// Pressure per squared flow, the quadratic term.
    QuadraticTerm,
    /// Volume, in the unit that the flow is counted in.
    Volume,
    /// A count.
    Count,
}

/// Makes shown numbers in one reader's units.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Show {
    /// The reader's units.
    pub(crate) units: UnitChoice,
}

impl Show {
    /// The SI value in the reader's unit.
    pub(crate) fn to_unit(self, kind: Kind, si: f64) -> f64 {
        let pressure = |pa: f64| self.units.pressure.from_pascal(Pascal(pa));
        match kind {
            Kind::Pressure => pressure(si),
            Kind::Flow => self.units.flow.from_m3_per_s(CubicMetrePerSecond(si)),
            Kind::Temperature => Kelvin(si).as_celsius(),
            Kind::Orifice if self.units.orifice == OrificeUnit::Thou => Metre(si).as_thou(),
            Kind::Orifice => Metre(si).as_mm(),
            Kind::Volume => self
                .units
                .flow
                .from_m3_per_s(CubicMetrePerSecond(si / 60.0)),
            Kind::Film => si * 1e6,
            Kind::Percent => si * 100.0,
            Kind::PerLitre => si * crate::units::M3_PER_L,
            Kind::Minutes => si / 60.0,
            Kind::Charge => si / 3600.0,
            Kind::Resistance => si * 1e3,
            Kind::LinearTerm => pressure(si) * self.units.flow.in_m3_per_s(),
            Kind::QuadraticTerm => pressure(si) * self.units.flow.in_m3_per_s().powi(2),
            Kind::TemperatureDifference
            | Kind::Plain
            | Kind::Time
            | Kind::Frequency
            | Kind::Voltage
            | Kind::Power
            | Kind::Speed
            | Kind::Count => si,
        }
    }

    /// How much the shown number moves for one SI unit (the offset of Celsius left out).
    fn slope(self, kind: Kind) -> f64 {
        self.to_unit(kind, 1.0) - self.to_unit(kind, 0.0)
    }

    /// Symbol written after the number; empty for numbers without unit.
    pub(crate) fn symbol(self, kind: Kind) -> &'static str {
        match kind {
            Kind::Pressure => self.units.pressure.symbol(),
            Kind::Flow => self.units.flow.symbol(),
            Kind::Temperature => "\u{b0}C",
            Kind::TemperatureDifference => "K",
            Kind::Orifice if self.units.orifice == OrificeUnit::Thou => "thou",
            Kind::Orifice => "mm",
            Kind::Volume => match self.units.flow {
                FlowUnit::LitrePerMinute => "L",
                FlowUnit::UsGallonPerMinute => "US gal",
            },
            Kind::Film => "\u{b5}m",
            Kind::Percent => "%",
            Kind::Plain | Kind::Count => "",
            Kind::Time => "s",
            Kind::Frequency => "Hz",
            Kind::Minutes => "min",
            Kind::Charge => "Ah",
            Kind::Resistance => "m\u{3a9}",
            Kind::Voltage => "V",
            Kind::Power => "W",
            Kind::Speed => "m/s",
            Kind::PerLitre => "pulses/L",
            Kind::LinearTerm => match (self.units.pressure, self.units.flow) {
                (PressureUnit::Bar, FlowUnit::LitrePerMinute) => "bar/(L/min)",
                (PressureUnit::Psi, FlowUnit::LitrePerMinute) => "psi/(L/min)",
                (PressureUnit::Mpa, FlowUnit::LitrePerMinute) => "MPa/(L/min)",
                (PressureUnit::Bar, FlowUnit::UsGallonPerMinute) => "bar/(gal/min)",
                (PressureUnit::Psi, FlowUnit::UsGallonPerMinute) => "psi/(gal/min)",
                (PressureUnit::Mpa, FlowUnit::UsGallonPerMinute) => "MPa/(gal/min)",
            },
            Kind::QuadraticTerm => match (self.units.pressure, self.units.flow) {
                (PressureUnit::Bar, FlowUnit::LitrePerMinute) => "bar/(L/min)\u{b2}",
                (PressureUnit::Psi, FlowUnit::LitrePerMinute) => "psi/(L/min)\u{b2}",
                (PressureUnit::Mpa, FlowUnit::LitrePerMinute) => "MPa/(L/min)\u{b2}",
                (PressureUnit::Bar, FlowUnit::UsGallonPerMinute) => "bar/(gal/min)\u{b2}",
                (PressureUnit::Psi, FlowUnit::UsGallonPerMinute) => "psi/(gal/min)\u{b2}",
                (PressureUnit::Mpa, FlowUnit::UsGallonPerMinute) => "MPa/(gal/min)\u{b2}",
            },
        }
    }

    /// A number to a given count of decimals, with its unit; a dash when it is not finite.
    pub(crate) fn fixed(
        self,
        kind: Kind,
        si: f64,
        decimals: i32,
        key: impl Into<String>,
    ) -> Sentence {
        self.bare_fixed(kind, si, decimals, key)
            .with_unit(self.symbol(kind))
            .into()
    }

    /// The same without unit, for cells of a table whose head carries it.
    pub(crate) fn bare_fixed(
        self,
        kind: Kind,
        si: f64,
        decimals: i32,
        key: impl Into<String>,
    ) -> Piece {
        let shown = self.to_unit(kind, si);
        if !shown.is_finite() {
            return Piece::Text(NONE.to_owned());
        }
        Piece::Number(Number {
            text: format_fixed(shown, decimals),
            unit: "",
            si,
            key: key.into(),
        })
    }

    /// A number without uncertainty: three significant digits, with its unit.
    pub(crate) fn plain(self, kind: Kind, si: f64, key: impl Into<String>) -> Sentence {
        self.fixed(kind, si, self.plain_decimals(kind, si), key)
    }

    /// The same without unit.
    pub(crate) fn bare(self, kind: Kind, si: f64, key: impl Into<String>) -> Piece {
        self.bare_fixed(kind, si, self.plain_decimals(kind, si), key)
    }

    fn plain_decimals(self, kind: Kind, si: f64) -> i32 {
        match kind {
            Kind::Count => 0,
            Kind::Temperature | Kind::TemperatureDifference | Kind::Time => 1,
            Kind::Percent => decimals_for_digits(si * 100.0, 2).clamp(0, 2),
            Kind::Pressure => decimals_for_digits(self.to_unit(kind, si), 3).max(0),
            _ => decimals_for_digits(self.to_unit(kind, si), 3),
        }
    }

    /// A pressure to set on the control: no finer than a gauge is read, and never rounded above
    /// `at_most_pa`.
    pub(crate) fn setting(
        self,
        pressure_pa: f64,
        at_most_pa: Option<f64>,
        key: impl Into<String>,
    ) -> Sentence {
        let decimals = setting_decimals(self.units.pressure);
        let step_pa = self.units.pressure.in_pa() * 10f64.powi(-decimals);
        let nearest_pa = (pressure_pa / step_pa).round() * step_pa;
        let is_above = at_most_pa.is_some_and(|most| nearest_pa > most && pressure_pa <= most);
        let rounded_pa = if is_above {
            (pressure_pa / step_pa).floor() * step_pa
        } else {
            nearest_pa
        };
        let shown = self.to_unit(Kind::Pressure, rounded_pa);
        if !shown.is_finite() {
            return Sentence::from(NONE);
        }
        Piece::Number(Number {
            text: format_fixed(shown, decimals),
            unit: self.symbol(Kind::Pressure),
            si: pressure_pa,
            key: key.into(),
        })
        .into()
    }

    /// A deviation in percent with its sign, rounded to its expanded uncertainty where that is known.
    pub(crate) fn deviation(
        self,
        ratio: f64,
        expanded: Option<f64>,
        key: impl Into<String>,
    ) -> Piece {
        let decimals =
            expanded.map_or(1, |u| self.decimals_by(Kind::Percent, ratio, u).clamp(0, 1));
        match self.bare_fixed(Kind::Percent, ratio, decimals, key) {
            Piece::Number(number) => {
                let is_zero = number.text.chars().all(|c| matches!(c, '0' | '.'));
                let text = if ratio > 0.0 && !is_zero {
                    format!("+{}", number.text)
                } else {
                    number.text
                };
                Piece::Number(Number { text, ..number })
            }
            other => other,
        }
    }

    /// A value whose expanded uncertainty is known, rounded to it, with unit but without the uncertainty.
    pub(crate) fn rounded(
        self,
        kind: Kind,
        si: f64,
        expanded: f64,
        key: impl Into<String>,
    ) -> Sentence {
        let decimals = self.decimals_by(kind, si, expanded);
        self.fixed(kind, si, decimals, key)
    }

    /// The same without unit.
    pub(crate) fn bare_rounded(
        self,
        kind: Kind,
        si: f64,
        expanded: f64,
        key: impl Into<String>,
    ) -> Piece {
        let decimals = self.decimals_by(kind, si, expanded);
        self.bare_fixed(kind, si, decimals, key)
    }

    /// Decimals that an expanded uncertainty (SI) allows for a value of this kind.
    fn decimals_by(self, kind: Kind, si: f64, expanded: f64) -> i32 {
        let shown = (expanded * self.slope(kind)).abs();
        if shown.is_finite() && shown > 0.0 {
            decimals_for_uncertainty(shown)
        } else {
            self.plain_decimals(kind, si)
        }
    }

    /// A probability in whole percent, never 0 and never 100: nothing measured is certain. Rounded towards
    /// a half, so that it never reads surer than it is.
    pub(crate) fn probability(self, probability: f64, key: impl Into<String>) -> Sentence {
        if !probability.is_finite() {
            return Sentence::from(NONE);
        }
        let percent = probability * 100.0;
        let whole = if percent > 50.0 {
            percent.floor()
        } else {
            percent.ceil()
        };
        Piece::Number(Number {
            text: format_fixed(whole.clamp(1.0, 99.0), 0),
            unit: self.symbol(Kind::Percent),
            si: probability,
            key: key.into(),
        })
        .into()
    }

    /// `value ± expanded unit`, both to the place that the uncertainty allows.
    pub(crate) fn plus_minus(
        self,
        kind: Kind,
        value: (f64, String),
        expanded: (f64, String),
    ) -> Sentence {
        let decimals = self.decimals_by(kind, value.0, expanded.0);
        let value = self.bare_fixed(kind, value.0, decimals, value.1);
        let shown = (expanded.0 * self.slope(kind)).abs();
        if !shown.is_finite() || matches!(value, Piece::Text(_)) {
            return say![value.with_unit(self.symbol(kind))];
        }
        // A doubt of degrees Celsius is one of kelvins: each has its own unit.
        let (value, kind) = match kind {
            Kind::Temperature => (
                value.with_unit(self.symbol(kind)),
                Kind::TemperatureDifference,
            ),
            other => (value, other),
        };
        let half = Piece::Number(Number {
            text: format_fixed(shown, decimals),
            unit: self.symbol(kind),
            si: expanded.0,
            key: expanded.1,
        });
        say![value, "\u{a0}\u{b1}\u{a0}", half]
    }

    /// An estimate as `value ± expanded unit`; `key` points at it in the results.
    pub(crate) fn estimate(self, kind: Kind, e: &Estimate, key: &str) -> Sentence {
        self.plus_minus(
            kind,
            (e.value, format!("{key}/value")),
            (e.expanded_95(), format!("{key}/expanded_95")),
        )
    }

    /// `low to high unit`, to the place that half the interval allows.
    pub(crate) fn between(self, kind: Kind, low: (f64, String), high: (f64, String)) -> Sentence {
        let decimals = self.decimals_by(kind, low.0, 0.5 * (high.0 - low.0));
        let first = self.bare_fixed(kind, low.0, decimals, low.1);
        let second = self.bare_fixed(kind, high.0, decimals, high.1);
        say![first, " to ", second.with_unit(self.symbol(kind))]
    }
}

#[cfg(test)]
mod tests;
