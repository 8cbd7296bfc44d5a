//! Absent or faulty: a chip that never answered is not fitted; one that did and does no more is at fault.

use embedded_hal::i2c::{Error, ErrorKind};
use tipcurve_firmware::SensorError;

/// What is known about one chip.
#[derive(Debug, Default)]
pub(crate) struct Presence {
    has_answered: bool,
}

impl Presence {
    /// The chip answered.
    pub(crate) const fn answered(&mut self) {
        self.has_answered = true;
    }

    /// What a failed transfer means.
    pub(crate) fn fault<E: Error>(&self, error: &E) -> SensorError {
        match error.kind() {
            ErrorKind::NoAcknowledge(_) if !self.has_answered => SensorError::Absent,
            _ => SensorError::Bus,
        }
    }
}
