//! How many digits a number is shown with, and the digits themselves. Knows no unit but that of a pressure set by hand.

use super::NONE;
use crate::units::PressureUnit;

/// Decimals of a pressure that is set by hand: 1 bar, 10 psi, 0.1 MPa.
pub(crate) const fn setting_decimals(unit: PressureUnit) -> i32 {
    match unit {
        PressureUnit::Bar => 0,
        PressureUnit::Psi => -1,
        PressureUnit::Mpa => 1,
    }
}

/// Decimals to which a value with this expanded uncertainty (same unit) is shown; negative for tens.
pub(crate) fn decimals_for_uncertainty(expanded: f64) -> i32 {
    let exponent = exponent_of(expanded);
    let leading = expanded / 10f64.powi(exponent);
    if leading < 2.95 {
        1 - exponent
    } else {
        -exponent
    }
}

/// Decimals for a count of significant digits.
pub(super) fn decimals_for_digits(value: f64, digits: i32) -> i32 {
    if value == 0.0 || !value.is_finite() {
        return 0;
    }
    digits - 1 - exponent_of(value)
}

/// Power of ten of the first digit, within what a number can have.
fn exponent_of(value: f64) -> i32 {
    #[allow(clippy::cast_possible_truncation)]
    let exponent = value.abs().log10().floor().clamp(-300.0, 300.0) as i32;
    exponent
}

/// A number with a true minus sign and narrow spaces between thousands; never "-0". A dash when it is not finite.
pub(crate) fn format_fixed(value: f64, decimals: i32) -> String {
    if !value.is_finite() {
        return NONE.to_owned();
    }
    let decimals = decimals.min(9);
    if value.abs() >= 1e9 || (value != 0.0 && value.abs() < 1e-7) {
        return format!("{value:.2e}").replace('-', "\u{2212}");
    }
    let places = usize::try_from(decimals.max(0)).unwrap_or(0);
    let rounded = if decimals < 0 {
        let step = 10f64.powi(-decimals);
        (value / step).round() * step
    } else {
        value
    };
    let digits = format!("{:.places$}", rounded.abs());
    let is_zero = digits.chars().all(|c| c == '0' || c == '.');
    let (whole, fraction) = digits
        .split_once('.')
        .map_or((digits.as_str(), None), |(w, f)| (w, Some(f)));
    let mut out = String::new();
    if rounded < 0.0 && !is_zero {
        out.push('\u{2212}');
    }
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i).is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}
