//! Where bursts begin and end. No means here: see `steady`.
//!
//! A burst is one pull of the trigger.

use serde::{Deserialize, Serialize};

/// One pull of the trigger, in logger time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Burst {
    /// Trigger opens.
    pub start_s: f64,
    /// Trigger closes.
    pub end_s: f64,
    /// Standard uncertainty of both times.
    pub u_time_s: f64,
}
