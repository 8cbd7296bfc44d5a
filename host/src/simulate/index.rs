//! The one place where the simulated rig turns a real number into a position, a code or a count.

/// Position of a number not below zero in a list: rounded down, negative and `NaN` count as zero.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range of u32 first"
)]
pub fn position(number: f64) -> usize {
    number.clamp(0.0, f64::from(u32::MAX)) as usize
}

/// The nearest whole code, held within `low..=high` as a converter does.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    reason = "clamped to a range of i32 first"
)]
pub fn nearest_code(number: f64, low: i32, high: i32) -> i32 {
    number.round().clamp(f64::from(low), f64::from(high)) as i32
}

/// Device ticks (microseconds) of a time in seconds, rounded down; negative counts as zero.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held above zero; 2^53 microseconds are 285 years"
)]
pub fn ticks_of(t_s: f64) -> u64 {
    (t_s * 1.0e6).max(0.0) as u64
}

/// A count as a real number.
#[must_use]
#[expect(
    clippy::cast_precision_loss,
    reason = "no list here reaches 2^53 entries"
)]
pub const fn real(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_outside_the_range_are_held_at_its_ends() {
        assert_eq!(position(-3.0), 0);
        assert_eq!(position(f64::NAN), 0);
        assert_eq!(position(2.9), 2);
        assert_eq!(nearest_code(3.6, -5, 5), 4);
        assert_eq!(nearest_code(9.0e9, -5, 5), 5);
        assert_eq!(nearest_code(-9.0e9, -5, 5), -5);
        assert_eq!(ticks_of(1.5), 1_500_000);
        assert_eq!(ticks_of(-1.0), 0);
    }
}
