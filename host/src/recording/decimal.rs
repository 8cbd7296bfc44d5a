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

/// A time that came as text: every digit that it had, since no unit was converted. A clock's seconds since 1970 have
/// ten before the point; cut to twelve, rows a millisecond apart would become one.
#[must_use]
pub fn exact(number: f64) -> String {
    if !number.is_finite() {
        return String::new();
    }
    format!("{}", number + 0.0)
}

/// A time that was computed from a logger's ticks: to the nanosecond, so that what computing did to the last bits
/// is gone and ticks of a microsecond stay apart however long the recording.
#[must_use]
pub fn nanoseconds(t_s: f64) -> String {
    exact(format!("{t_s:.9}").parse().unwrap_or(t_s))
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
    fn times_keep_what_tells_them_apart() {
        assert_eq!(exact(1_732_752_000.123_457), "1732752000.123457");
        assert_eq!(exact(1.0 / 3.0), "0.3333333333333333");
        assert_eq!(exact(-0.0), "0");
        assert_eq!(nanoseconds(0.1 + 0.2), "0.3");
        assert_eq!(nanoseconds(20_000_000.000_001), "20000000.000001");
        assert_eq!(nanoseconds(f64::NAN), "");
    }

    #[test]
    fn odd_numbers_have_plain_text() {
        assert_eq!(decimal(-0.0), "0");
        assert_eq!(decimal(1.0e-7), "0.0000001");
        assert_eq!(decimal(123_456_789.0), "123456789");
        assert_eq!(decimal(f64::NAN), "");
    }
}
