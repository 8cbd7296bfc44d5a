//! A recording in memory: what was logged, what was noted, what does not change.
//!
//! [`Recording`] is what [`load`] makes of a folder and what `import` makes of the plain-text
//! interchange. It interprets nothing: codes stay codes, notes stay rows. What was lost or could
//! not be read travels with it in `defects`.

mod cells;
pub mod decimal;
pub mod decode;
pub mod fault;
pub mod folder;
pub mod load;
pub mod log;
pub mod notes;
pub mod review;
pub mod roster;
mod rows;
pub mod sample_times;
pub mod samples;
pub mod settings;
pub mod timeline;

use serde::{Deserialize, Serialize};

use notes::Note;
use sample_times::SampleTimes;
use settings::Settings;

/// One recording folder, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// The folder's own name.
    pub name: String,
    /// `session.toml`.
    pub settings: Settings,
    /// `notes.csv`, in the order of the file.
    pub notes: Vec<Note>,
    /// What the sensors saw.
    pub data: Data,
    /// What was lost, torn or unreadable; each says what became of the data.
    pub defects: Vec<LoadDefect>,
    /// True when the data were made by the simulated rig; every output says so.
    pub is_simulated: bool,
}

impl Recording {
    /// Unix time when logger time was zero, where the settings or the arrivals tell: of all
    /// arrivals the quickest, which is still later than the truth by what no arrival is without.
    #[must_use]
    pub fn started_unix_s(&self) -> Option<f64> {
        let from_arrivals = match &self.data {
            Data::Device(log) => log
                .arrivals
                .iter()
                .map(|(logger_s, host_s)| log.host_epoch_unix_s + host_s - logger_s)
                .reduce(f64::min),
            Data::Samples(_) => None,
        };
        self.settings.started_at_unix_s.or(from_arrivals)
    }
}

/// The two ways that sensor data come in.
#[derive(Debug, Clone, PartialEq)]
pub enum Data {
    /// Rows of the plain-text interchange, in SI.
    Samples(SampleTable),
    /// Decoded frames of a logger, still in codes and ticks.
    Device(DeviceLog),
}

impl Data {
    /// Logger time of the first and last sample; `None` without samples.
    #[must_use]
    pub fn range_s(&self) -> Option<(f64, f64)> {
        match self {
            Self::Samples(table) => Some((*table.t_s.first()?, *table.t_s.last()?)),
            Self::Device(log) => log.t_s.first().zip(log.t_s.last()),
        }
    }
}

/// Columns of `samples.csv` in SI; all of the same length, `NaN` where a cell was empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SampleTable {
    /// Logger time, strictly increasing.
    pub t_s: Vec<f64>,
    /// Gauge pressure.
    pub pressure_pa: Vec<f64>,
    /// Flow as the file gave it.
    pub flow: FlowColumn,
    /// Time of the last pulse edge at or before the row; empty when the column is absent.
    pub pulse_t_s: Vec<f64>,
    /// Slow channels: rows that had a value.
    pub slow: SlowChannels,
    /// Columns this program does not know, kept as text: name and one cell a row.
    pub extra: Vec<(String, Vec<String>)>,
}

/// The flow column of `samples.csv`.
#[derive(Debug, Clone, PartialEq)]
pub enum FlowColumn {
    /// Pulses counted since the previous row; `None` where the cell was empty.
    Pulses(Vec<Option<u32>>),
    /// Flow already converted, m3/s; `NaN` where the cell was empty.
    Rate(Vec<f64>),
}

impl Default for FlowColumn {
    fn default() -> Self {
        Self::Pulses(Vec::new())
    }
}

/// One slow channel: times and values of the rows that carry it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SlowSeries {
    /// Logger time.
    pub t_s: Vec<f64>,
    /// Value in the SI unit of its channel.
    pub value: Vec<f64>,
}

/// The slow channels, each possibly empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SlowChannels {
    /// Supply or battery voltage, V.
    pub supply_v: SlowSeries,
    /// Supply or battery current, A.
    pub supply_a: SlowSeries,
    /// Coating temperature, K.
    pub material_k: SlowSeries,
    /// Air temperature, K.
    pub air_k: SlowSeries,
    /// Relative humidity of the air, 0 to 1.
    pub rh_ratio: SlowSeries,
}

/// Decoded frames of one logger on one logger time line.
///
/// A device restart begins a new stretch; `t_s` runs on across it by the host's arrival times, and
/// the restart is a defect with its time range.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DeviceLog {
    /// Logger time of each pressure sample, strictly increasing.
    pub t_s: SampleTimes,
    /// Raw pressure codes, one a sample.
    pub pressure_code: Vec<i32>,
    /// What turns a code into pressure, as the device declared it in its hello.
    pub pressure_scale: PressureScale,
    /// Declared sample rate.
    pub sample_rate_hz: f64,
    /// Logger time of every accepted flow edge.
    pub edge_t_s: Vec<f64>,
    /// Slow channels as sent.
    pub slow: SlowChannels,
    /// Logger time of each press of the mark button.
    pub mark_t_s: Vec<f64>,
    /// Stretches where samples or edges were lost.
    pub gaps: Vec<Gap>,
    /// Pairs (logger time, host time) of frame arrival, seconds; host time since `host_epoch_unix_s`.
    pub arrivals: Vec<(f64, f64)>,
    /// Unix time that arrival times count from.
    pub host_epoch_unix_s: f64,
}

/// Pressure code to gauge pressure as declared by the device: `pascal = zero + per_code * code`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PressureScale {
    /// Gauge pressure at code 0.
    pub zero_pa: f64,
    /// Gauge pressure of one code step.
    pub pa_per_code: f64,
    /// Lowest code that the converter can give.
    pub code_min: i32,
    /// Highest code that the converter can give.
    pub code_max: i32,
}

impl Default for PressureScale {
    fn default() -> Self {
        Self {
            zero_pa: 0.0,
            pa_per_code: 1.0,
            code_min: i32::MIN,
            code_max: i32::MAX,
        }
    }
}

/// A stretch of logger time in which something was lost.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Gap {
    /// Last good time before the gap.
    pub from_s: f64,
    /// First good time after the gap.
    pub to_s: f64,
    /// Pressure samples lost, where the sequence numbers tell.
    pub samples_lost: Option<u64>,
    /// Flow edges lost, where the running edge count tells.
    pub edges_lost: Option<u64>,
}

/// What was lost or unreadable when a recording was loaded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LoadDefect {
    /// A stable code, for example `torn_tail`, `corrupt_frames`, `device_restart`, `unknown_key`.
    pub code: String,
    /// Where in logger time, when it has a place there.
    pub range_s: Option<(f64, f64)>,
    /// What, where and what to do, one line.
    pub message: String,
}
