//! Numbers as text: the shortest decimal that reads back to the same reading.

/// A finite number rounded to twelve significant digits, written without exponent and without
/// zeros at the end; empty for anything else.
///
/// Twelve digits are more than any sensor here gives and fewer than the fifteen that a double
/// always carries, so what unit conversion did to the last bits is gone: 61.5 bar stay `61.5`
/// after a journey through pascals.
#[must_use]
pub fn decimal(number: f64) -> String {
    if !number.is_finite() {
        return String::new();
    }
    let rounded: f64 = format!("{number:.11e}").parse().unwrap_or(number);
    // Adding zero turns -0 into 0.
    format!("{}", rounded + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Kelvin, Pascal};

    #[test]
    fn unit_conversion_leaves_no_trace() {
        for tenths in 0..4_000_i32 {
            let bar = f64::from(tenths) / 10.0;
            assert_eq!(
                decimal(Pascal(Pascal::from_bar(bar).si()).as_bar()),
                format!("{bar}")
            );
            let celsius = f64::from(tenths) / 10.0 - 50.0;
            let back = Kelvin(Kelvin::from_celsius(celsius).si()).as_celsius();
            assert_eq!(decimal(back), decimal(celsius));
        }
    }

    #[test]
    fn odd_numbers_have_plain_text() {
        assert_eq!(decimal(-0.0), "0");
        assert_eq!(decimal(1.0e-7), "0.0000001");
        assert_eq!(decimal(123_456_789.0), "123456789");
        assert_eq!(decimal(f64::NAN), "");
    }
}
