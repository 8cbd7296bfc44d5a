//! Notes to bursts by one monotone assignment; runner-up and ambiguity. Reads no curve.

use serde::{Deserialize, Serialize};

/// What one note was matched to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NoteMatch {
    /// Index of the note in the recording.
    pub note_index: usize,
    /// Index of the burst; `None` for a note that describes none (an event, or nothing near).
    pub burst_index: Option<usize>,
    /// Best time of the note in logger time, where it has one.
    pub t_s: Option<f64>,
    /// The burst of the runner-up assignment, where it is another.
    pub other_burst_index: Option<usize>,
    /// True when the runner-up is close and leads to a different group: not used.
    pub is_ambiguous: bool,
}

/// The whole assignment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
pub struct Alignment {
    /// One entry a note, in the order of the notes.
    pub matches: Vec<NoteMatch>,
    /// Cost of the chosen assignment (twice a negative log-likelihood, dimensionless).
    pub cost: f64,
    /// Cost of the best assignment that differs, where there is one.
    pub runner_up_cost: Option<f64>,
    /// Offset between note clock and logger clock: logger time = note time + offset.
    pub clock_offset_s: Option<f64>,
    /// Standard uncertainty of that offset.
    pub u_clock_offset_s: Option<f64>,
    /// Bursts that are the short pulls of a sync mark.
    pub sync_bursts: Vec<usize>,
    /// True when the assignment as a whole cannot be known.
    pub is_ambiguous: bool,
}
