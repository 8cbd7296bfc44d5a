//! The version of the wire and the three answers a reader has: read, skip, refuse.
//!
//! Every frame carries in its first byte the version in which its own layout last
//! changed, not the version of the firmware. A reader of an older minor version
//! therefore still reads every frame whose layout it knows, and skips only what is new.

use core::fmt;

use serde::{Deserialize, Serialize};

/// The version that this crate writes and reads.
pub const WIRE_VERSION: Version = Version { major: 1, minor: 0 };

/// Major and minor version of the wire, each 0 to 15.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Version {
    /// Changes when old readers can no longer make sense of the stream.
    pub major: u8,
    /// Changes when a frame kind or a field is added.
    pub minor: u8,
}

impl Version {
    /// The version in the first byte of a frame: major in the high half, minor in the low.
    #[must_use]
    pub const fn from_byte(byte: u8) -> Self {
        Self {
            major: byte >> 4,
            minor: byte & 0x0f,
        }
    }

    /// The first byte of a frame. Numbers above 15 do not fit and are cut.
    #[must_use]
    pub const fn as_byte(self) -> u8 {
        (self.major << 4) | (self.minor & 0x0f)
    }

    /// What a reader of [`WIRE_VERSION`] does with a frame of this version.
    #[must_use]
    pub const fn answer(self) -> Answer {
        if self.major != WIRE_VERSION.major {
            Answer::Refuse
        } else if self.minor > WIRE_VERSION.minor {
            Answer::Skip
        } else {
            Answer::Read
        }
    }
}

impl fmt::Display for Version {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.major, self.minor)
    }
}

/// What to do with a frame of a given version.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The layout is known.
    Read,
    /// The layout is newer, the rest of the stream can still be read.
    Skip,
    /// Nothing in the stream can be trusted to mean what this reader thinks.
    Refuse,
}

/// A frame of another major version, with what a person needs to act on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// The version that the device speaks.
    pub version: Version,
    /// The device, where the refused frame was a hello; its first fields hold for ever.
    pub device_id: Option<u64>,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.device_id {
            Some(id) => write!(f, "device {id:016X}")?,
            None => f.write_str("the device")?,
        }
        write!(
            f,
            " speaks wire {}, this program reads {}.x",
            self.version, WIRE_VERSION.major
        )
    }
}

impl core::error::Error for Refusal {}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::string::ToString;

    #[test]
    fn each_version_has_one_of_three_answers() {
        for (byte, answer) in [
            (0x10, Answer::Read),
            (0x11, Answer::Skip),
            (0x1f, Answer::Skip),
            (0x20, Answer::Refuse),
            (0x00, Answer::Refuse),
        ] {
            assert_eq!(Version::from_byte(byte).answer(), answer, "{byte:#x}");
        }
    }

    #[test]
    fn every_byte_is_a_version_and_back() {
        for byte in 0..=u8::MAX {
            assert_eq!(Version::from_byte(byte).as_byte(), byte);
        }
    }

    #[test]
    fn refusal_names_device_and_both_versions() {
        let mut refusal = Refusal {
            version: Version { major: 2, minor: 0 },
            device_id: Some(0x7F3A),
        };
        assert_eq!(
            refusal.to_string(),
            "device 0000000000007F3A speaks wire 2.0, this program reads 1.x"
        );
        refusal.device_id = None;
        assert_eq!(
            refusal.to_string(),
            "the device speaks wire 2.0, this program reads 1.x"
        );
    }
}
