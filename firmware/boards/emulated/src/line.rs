//! A serial line that is as slow as a real one, in device time.

use core::convert::Infallible;

use embedded_io::{ErrorType, Write, WriteReady};

/// Hundredths of a byte that 115200 baud carries in a millisecond: ten bits a byte.
pub const HUNDREDTHS_PER_MS: u32 = 1_152;

/// Lets through what the line would have carried by now.
#[derive(Debug)]
pub struct PacedLine<P> {
    put: P,
    credit_hundredths: u32,
}

impl<P: FnMut(u8)> PacedLine<P> {
    /// A line that hands each byte to `put`.
    pub const fn new(put: P) -> Self {
        Self {
            put,
            credit_hundredths: 0,
        }
    }

    /// A millisecond went by. What is not used at once is lost, but for a part of a byte and one whole.
    pub fn add_millisecond(&mut self) {
        let kept = self.credit_hundredths.min(199);
        self.credit_hundredths = kept + HUNDREDTHS_PER_MS;
    }
}

impl<P> ErrorType for PacedLine<P> {
    type Error = Infallible;
}

impl<P: FnMut(u8)> Write for PacedLine<P> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        let mut written = 0;
        for byte in bytes {
            let Some(left) = self.credit_hundredths.checked_sub(100) else {
                break;
            };
            self.credit_hundredths = left;
            (self.put)(*byte);
            written += 1;
        }
        Ok(written)
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl<P: FnMut(u8)> WriteReady for PacedLine<P> {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.credit_hundredths >= 100)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_carries_what_115200_baud_carries() {
        let mut count = 0;
        let mut line = PacedLine::new(|_| count += 1);
        for _ in 0..1_000 {
            line.add_millisecond();
            while line.write_ready() == Ok(true) {
                assert!(line.write(&[0; 7]).is_ok_and(|written| written > 0));
            }
        }
        assert_eq!(count, 11_520);
    }

    #[test]
    fn an_idle_line_saves_up_nothing() {
        let mut line = PacedLine::new(|_| ());
        (0..1_000).for_each(|_| line.add_millisecond());
        assert!(matches!(line.write(&[0; 100]), Ok(11..=13)));
    }
}
