//! Quantity types, and the only place that knows bar, psi, litres a minute, gallons and degrees Celsius.
//!
//! Everything inside the program is SI. A number gets a unit when it is read from a file or
//! a person, through a `from_` function, and loses it when it is shown, through an `as_` function.
//! Conversion factors are those of NIST SP 811 (2008), appendix B.8; the tests repeat them.

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The number in the SI unit of this type.
            #[must_use]
            pub const fn si(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(
    /// Gauge pressure in pascals, unless a name says `abs`.
    Pascal
);
quantity!(
    /// Volume flow rate in cubic metres per second.
    CubicMetrePerSecond
);
quantity!(
    /// Volume in cubic metres.
    CubicMetre
);
quantity!(
    /// Length in metres.
    Metre
);
quantity!(
    /// Thermodynamic temperature in kelvins.
    Kelvin
);
quantity!(
    /// Duration in seconds.
    Second
);
quantity!(
    /// Density in kilograms per cubic metre.
    KilogramPerCubicMetre
);
quantity!(
    /// Dynamic viscosity in pascal seconds.
    PascalSecond
);
quantity!(
    /// Power in watts.
    Watt
);

/// Pascals in one bar.
pub const PA_PER_BAR: f64 = 1.0e5;
/// Pascals in one pound-force per square inch (NIST SP 811).
pub const PA_PER_PSI: f64 = 6_894.757;
/// Pascals in one megapascal.
pub const PA_PER_MPA: f64 = 1.0e6;
/// Cubic metres in one litre.
pub const M3_PER_L: f64 = 1.0e-3;
/// Cubic metres in one US liquid gallon (NIST SP 811).
pub const M3_PER_US_GAL: f64 = 3.785_412e-3;
/// Metres in one inch, exact.
pub const M_PER_INCH: f64 = 0.0254;
/// Kelvins at zero degrees Celsius.
pub const KELVIN_AT_0_C: f64 = 273.15;

impl Pascal {
    /// Gauge pressure from bar.
    #[must_use]
    pub const fn from_bar(bar: f64) -> Self {
        Self(bar * PA_PER_BAR)
    }

    /// Gauge pressure in bar.
    #[must_use]
    pub const fn as_bar(self) -> f64 {
        self.0 / PA_PER_BAR
    }
}

impl CubicMetrePerSecond {
    /// Flow from litres per minute.
    #[must_use]
    pub const fn from_l_min(l_min: f64) -> Self {
        Self(l_min * M3_PER_L / 60.0)
    }

    /// Flow in litres per minute.
    #[must_use]
    pub const fn as_l_min(self) -> f64 {
        self.0 * 60.0 / M3_PER_L
    }
}

impl Metre {
    /// Length from thousandths of an inch.
    #[must_use]
    pub const fn from_thou(thou: f64) -> Self {
        Self(thou * M_PER_INCH / 1000.0)
    }

    /// Length in thousandths of an inch.
    #[must_use]
    pub const fn as_thou(self) -> f64 {
        self.0 * 1000.0 / M_PER_INCH
    }

    /// Length from millimetres.
    #[must_use]
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm / 1000.0)
    }

    /// Length in millimetres.
    #[must_use]
    pub const fn as_mm(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Kelvin {
    /// Temperature from degrees Celsius.
    #[must_use]
    pub const fn from_celsius(celsius: f64) -> Self {
        Self(celsius + KELVIN_AT_0_C)
    }

    /// Temperature in degrees Celsius.
    #[must_use]
    pub const fn as_celsius(self) -> f64 {
        self.0 - KELVIN_AT_0_C
    }
}

/// The pressure unit a person reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PressureUnit {
    /// bar
    #[default]
    Bar,
    /// pound-force per square inch
    Psi,
    /// megapascal
    Mpa,
}

impl PressureUnit {
    /// The symbol written after a number.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Bar => "bar",
            Self::Psi => "psi",
            Self::Mpa => "MPa",
        }
    }

    /// Pascals in one of this unit.
    #[must_use]
    pub const fn in_pa(self) -> f64 {
        match self {
            Self::Bar => PA_PER_BAR,
            Self::Psi => PA_PER_PSI,
            Self::Mpa => PA_PER_MPA,
        }
    }

    /// A gauge pressure as a number in this unit.
    #[must_use]
    pub const fn from_pascal(self, pressure: Pascal) -> f64 {
        pressure.0 / self.in_pa()
    }

    /// A number in this unit as a gauge pressure.
    #[must_use]
    pub const fn to_pascal(self, number: f64) -> Pascal {
        Pascal(number * self.in_pa())
    }
}

/// The flow unit a person reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum FlowUnit {
    /// litres per minute
    #[default]
    #[serde(rename = "l/min")]
    LitrePerMinute,
    /// US liquid gallons per minute
    #[serde(rename = "gal/min")]
    UsGallonPerMinute,
}

impl FlowUnit {
    /// The symbol written after a number.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::LitrePerMinute => "L/min",
            Self::UsGallonPerMinute => "US gal/min",
        }
    }

    /// Cubic metres per second in one of this unit.
    #[must_use]
    pub const fn in_m3_per_s(self) -> f64 {
        match self {
            Self::LitrePerMinute => M3_PER_L / 60.0,
            Self::UsGallonPerMinute => M3_PER_US_GAL / 60.0,
        }
    }

    /// A flow as a number in this unit.
    #[must_use]
    pub const fn from_m3_per_s(self, flow: CubicMetrePerSecond) -> f64 {
        flow.0 / self.in_m3_per_s()
    }
}

/// The orifice unit a person reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OrificeUnit {
    /// millimetres
    #[default]
    Mm,
    /// thousandths of an inch
    Thou,
}

/// The units of one reader: every number that is shown goes through these.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct UnitChoice {
    /// Pressure.
    pub pressure: PressureUnit,
    /// Volume flow.
    pub flow: FlowUnit,
    /// Orifice diameter.
    pub orifice: OrificeUnit,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 (2008), B.8, as quoted in `tests/checks/README.md`.
    #[test]
    fn conversions_match_nist_sp_811() {
        assert_eq!(PressureUnit::Psi.to_pascal(1.0).si(), 6894.757);
        assert_eq!(M3_PER_US_GAL * 1e3, 3.785_412);
        assert!((Metre::from_thou(1.0).si() * 1e6 - 25.4).abs() < 1e-12);
        assert!((Pascal::from_bar(138.0).as_bar() - 138.0).abs() < 1e-12);
    }

    #[test]
    fn a_number_survives_the_round_trip_in_every_unit() {
        for unit in [PressureUnit::Bar, PressureUnit::Psi, PressureUnit::Mpa] {
            let back = unit.from_pascal(unit.to_pascal(123.4));
            assert!((back - 123.4).abs() < 1e-9, "{unit:?}");
        }
        for unit in [FlowUnit::LitrePerMinute, FlowUnit::UsGallonPerMinute] {
            let back = unit.from_m3_per_s(CubicMetrePerSecond(1.7 * unit.in_m3_per_s()));
            assert!((back - 1.7).abs() < 1e-12, "{unit:?}");
        }
        assert!((Kelvin::from_celsius(-5.5).as_celsius() + 5.5).abs() < 1e-12);
    }
}
