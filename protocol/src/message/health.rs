//! The heartbeat: that the device lives, and everything it counted.

use serde::{Deserialize, Serialize};

use super::open_code;

/// Sent once a second whether or not samples are taken. Counters run from the start of the device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Device tick of this report.
    pub device_ticks: u64,
    /// Differs from one start of the device to the next.
    pub boot_id: u32,
    /// Why the device last started.
    pub reset_reason: ResetReason,
    /// Reports before this one.
    pub heartbeat: u32,
    /// Whether samples are being taken.
    pub is_running: bool,
    /// Sequence number after the last sample sent before this report: a lower one that never
    /// came was lost on the way.
    pub sent_samples: u32,
    /// The same for edges.
    pub sent_edges: u32,
    /// The same for marks.
    pub sent_marks: u32,
    /// Sample blocks dropped because the queue was full.
    pub dropped_blocks: u32,
    /// Samples in those blocks.
    pub dropped_samples: u32,
    /// Edges dropped because their queue was full.
    pub dropped_edges: u32,
    /// Slow readings, marks and replies dropped because their queue was full.
    pub dropped_others: u32,
    /// Samples that the pressure sensor failed to give in time.
    pub missed_samples: u32,
    /// Samples at an end of the converter's range.
    pub saturated_samples: u32,
    /// Failed transfers on the sensor buses.
    pub bus_errors: u32,
    /// One bit per quantity code (bit 1 pressure, bit 3 coating temperature, ...): sensors that do
    /// not answer now.
    pub absent_channels: u16,
    /// Edges overwritten in hardware before they were read.
    pub over_captures: u32,
    /// Edges within the debounce time, rejected.
    pub debounce_rejects: u32,
    /// Frames from the host that were damaged, of an unknown kind or of another version.
    pub bad_frames: u32,
    /// Frames abandoned because the writer failed.
    pub send_errors: u32,
    /// Most sample blocks that ever waited in the queue.
    pub queue_high_water: u8,
}

/// Why the device started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "u8", into = "u8")]
pub enum ResetReason {
    /// The board cannot tell.
    #[default]
    NotKnown,
    /// Power came on.
    PowerOn,
    /// The supply fell below the least voltage.
    BrownOut,
    /// The watchdog was not fed.
    Watchdog,
    /// The firmware asked for it.
    Software,
    /// The reset pin.
    Pin,
    /// A reason of a later version.
    Other(u8),
}

open_code!(ResetReason:
    NotKnown = 0,
    PowerOn = 1,
    BrownOut = 2,
    Watchdog = 3,
    Software = 4,
    Pin = 5,
);
