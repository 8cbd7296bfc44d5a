//! What a recorder tells of itself, once a second.

/// How the line to the logger is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LineState {
    /// Waiting for the first frame.
    #[default]
    Waiting,
    /// Frames arrive.
    OnLine,
    /// The port is there but nothing is heard.
    Silent,
    /// Bytes arrive, but no frames of a logger.
    Garbled,
    /// The port is gone; it is looked for.
    Absent,
    /// The source ended.
    Ended,
}

/// The recorder in numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Status {
    /// The line.
    pub line: LineState,
    /// Where the bytes come from.
    pub source: String,
    /// Device id of the logger.
    pub device_id: Option<u64>,
    /// Time since the recording began, s.
    pub elapsed_s: f64,
    /// Pressure samples a second, over the last seconds.
    pub sample_rate_hz: f64,
    /// Bytes a second, over the last seconds.
    pub bytes_per_s: f64,
    /// Samples received.
    pub samples: u64,
    /// Samples known to be lost.
    pub samples_lost: u64,
    /// Flow edges known to be lost.
    pub edges_lost: u64,
    /// Damaged stretches of the stream.
    pub frames_damaged: u64,
    /// Frames of a newer version, kept in the log and not read.
    pub frames_unknown: u64,
    /// Starts of the device after the first.
    pub restarts: u64,
    /// Times the line was lost and found again.
    pub reconnects: u64,
    /// Bytes in the log.
    pub log_bytes: u64,
    /// Bytes received that the disk has not taken.
    pub held_bytes: u64,
    /// Free space where the log is.
    pub disk_free_bytes: Option<u64>,
    /// What needs attention, each one sentence with what to do.
    pub warnings: Vec<String>,
}

/// Whoever wants to watch. Called on the recorder's own thread: an implementation returns at once
/// and never waits.
pub trait Listener {
    /// Bytes as they came, with the host time of their arrival.
    fn on_bytes(&mut self, bytes: &[u8], arrived_unix_s: f64);

    /// The status, once a second and whenever the line changes.
    fn on_status(&mut self, status: &Status);
}
