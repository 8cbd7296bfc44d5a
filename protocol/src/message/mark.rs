//! The button on the logger: "something worth a note happened now".

use serde::{Deserialize, Serialize};

/// One press of the button.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// Presses before this one since the device started.
    pub first_mark: u32,
    /// Device tick of the press.
    pub device_ticks: u64,
}
