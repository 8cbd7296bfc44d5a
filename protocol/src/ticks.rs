//! The device's clock: ticks of one microsecond, counted from its start in 64 bits.
//!
//! Hardware timers are narrower and wrap; [`TickExtender`] widens them. Wall time does
//! not exist here: the host learns it from clock echoes.

/// Ticks in one second.
pub const TICKS_PER_SECOND: u32 = 1_000_000;

/// Widens readings of a wrapping 32-bit microsecond counter (it wraps after 71.6 min).
///
/// A reading may be somewhat older than the one before it, as a captured edge is that is
/// read after the time was. Readings must not be further apart than 2^31 us (35.8 min).
#[derive(Clone, Copy, Debug, Default)]
pub struct TickExtender {
    latest: u64,
}

impl TickExtender {
    /// Starts at tick zero.
    #[must_use]
    pub const fn new() -> Self {
        Self { latest: 0 }
    }

    /// The 64-bit tick of a counter reading.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the low half is what is compared"
    )]
    pub fn extend(&mut self, counter: u32) -> u64 {
        let step = counter.wrapping_sub(self.latest as u32).cast_signed();
        let ticks = self.latest.saturating_add_signed(i64::from(step));
        self.latest = self.latest.max(ticks);
        ticks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counter_wraps_and_time_goes_on() {
        let mut extender = TickExtender::new();
        assert_eq!(extender.extend(5), 5);
        assert_eq!(extender.extend(0x7000_0000), 0x7000_0000);
        assert_eq!(extender.extend(0xe000_0000), 0xe000_0000);
        assert_eq!(extender.extend(0xffff_ffff), 0xffff_ffff);
        assert_eq!(extender.extend(0), 0x1_0000_0000);
        assert_eq!(extender.extend(7), 0x1_0000_0007);
    }

    #[test]
    fn capture_from_before_the_wrap_keeps_its_own_time() {
        let mut extender = TickExtender::new();
        extender.extend(0x7fff_ffff);
        extender.extend(0xffff_fff0);
        extender.extend(3);
        assert_eq!(extender.extend(0xffff_fff8), 0xffff_fff8);
        assert_eq!(extender.extend(4), 0x1_0000_0004);
    }

    #[test]
    fn reading_from_before_the_start_is_the_start() {
        assert_eq!(TickExtender::new().extend(u32::MAX), 0);
    }
}
