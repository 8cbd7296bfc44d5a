//! One row of `notes.csv` as a value: what the person saw.
//!
//! Cells stay as they were written: nothing is carried forward here (see `analysis::group`) and no
//! note is given a burst (see `analysis::align`).

mod added;
mod append;
mod event;
mod read;
mod replace;
mod time;
mod undo;
mod write;

use serde::{Deserialize, Serialize};

pub use added::gone;
pub use append::{NoteError, append, append_made, restore};
pub use event::KnownEvent;
pub use read::{COLUMNS, read};
pub use time::write_moment;
pub use undo::{UNDO, in_force, taken_back, undo_note};
pub use write::write;

/// When a note says that it was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
#[serde(rename_all = "snake_case")]
pub enum NoteTime {
    /// RFC 3339 date-time, as Unix seconds.
    Absolute {
        /// Seconds since 1970-01-01T00:00:00Z.
        unix_s: f64,
        /// How finely it was written: 1 for seconds, 60 for minutes.
        resolution_s: f64,
    },
    /// Clock time of the session's date, seconds since local midnight.
    Clock {
        /// Seconds since local midnight.
        since_midnight_s: f64,
        /// How finely it was written: 1 for `HH:MM:SS`, 60 for `HH:MM`.
        resolution_s: f64,
    },
    /// `~HH:MM`: about that clock time.
    About {
        /// Seconds since local midnight.
        since_midnight_s: f64,
    },
    /// `t+125.5`: seconds of logger time.
    Logger {
        /// Logger time.
        t_s: f64,
    },
    /// Empty: after the note above, before the note below.
    #[default]
    OrderedOnly,
}

/// One row of `notes.csv`. `None` is an empty cell.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Note {
    /// Line of the file that it stands in, 1 being the header; 0 for a note that has no file yet.
    pub line: usize,
    /// When it was seen.
    pub time: NoteTime,
    /// Tip code as stamped, or any label.
    pub tip: Option<String>,
    /// The user's own family word.
    pub tip_family: Option<String>,
    /// Coating, as named in the material list.
    pub material: Option<String>,
    /// Thinner added, 0 to 1, by volume of coating.
    pub thinner_ratio: Option<f64>,
    /// Position of the pressure control, as written.
    pub dial: Option<String>,
    /// 0 none, 1 faint, 2 clear, 3 heavy.
    pub tails: Option<u8>,
    /// True: the coat sagged or ran.
    pub runs: Option<bool>,
    /// Wet film comb reading, m.
    pub comb_m: Option<f64>,
    /// Coating strained before use.
    pub strained: Option<bool>,
    /// Mass caught in a timed catch, kg.
    pub catch_kg: Option<f64>,
    /// Duration of the timed catch, s.
    pub catch_s: Option<f64>,
    /// `sync`, `battery_swap`, `filter_cleaned`, `tip_changed`, `setup`, `relieved`, or the user's own.
    pub event: Option<String>,
    /// Free text.
    pub text: Option<String>,
    /// Cells of columns this program does not know: column name and cell.
    pub extra: Vec<(String, String)>,
}
