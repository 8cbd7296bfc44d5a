//! What a viewer sees: mirror types with stable keys, SI inside.
//!
//! A [`Snapshot`] is everything, sent when a viewer arrives; an [`Update`] is what changed since.
//! Both are values without behaviour, so that the analysis may change without breaking a page.

use serde::{Deserialize, Serialize};

use super::phrase::Phrase;
use super::phrase::pressure_decimals;
use crate::units::{FlowUnit, PressureUnit};

/// Everything that the page shows.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Snapshot {
    /// Grows by one with each change.
    pub version: u64,
    /// What does not change.
    pub bench: BenchView,
    /// The recorder.
    pub recorder: RecorderView,
    /// The large figures.
    pub figures: Figures,
    /// The last minutes.
    pub trace: TraceView,
    /// What is set now, from the notes.
    pub setting: SettingView,
    /// Bursts that have ended, oldest first.
    pub bursts: Vec<BurstView>,
    /// Nozzle curves of the groups so far.
    pub curves: Vec<CurveView>,
    /// Window and state of the present group in words, most important first.
    pub words: Vec<Phrase>,
    /// The latest notes, oldest first.
    pub notes: Vec<NoteView>,
}

impl Snapshot {
    /// Takes over what an update carries; its trace is kept elsewhere.
    pub fn merge(&mut self, update: Update) {
        self.version = update.version;
        self.figures = update.figures;
        replace(&mut self.recorder, update.recorder);
        replace(&mut self.setting, update.setting);
        replace(&mut self.bursts, update.bursts);
        replace(&mut self.curves, update.curves);
        replace(&mut self.words, update.words);
        replace(&mut self.notes, update.notes);
    }
}

fn replace<T>(part: &mut T, new: Option<T>) {
    if let Some(new) = new {
        *part = new;
    }
}

/// What changed. A part that is `None` stayed as it was.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Update {
    /// Version after this update.
    pub version: u64,
    /// Unix time in milliseconds at which the newest bytes in it arrived, for measuring delay.
    pub arrived_ms: Option<f64>,
    /// The large figures, always.
    pub figures: Figures,
    /// Bins of the trace that are new or were revised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trace: Option<TraceView>,
    /// The recorder.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorder: Option<RecorderView>,
    /// What is set now.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setting: Option<SettingView>,
    /// Bursts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bursts: Option<Vec<BurstView>>,
    /// Curves.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curves: Option<Vec<CurveView>>,
    /// Words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub words: Option<Vec<Phrase>>,
    /// Notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notes: Option<Vec<NoteView>>,
}

/// What does not change during a recording.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BenchView {
    /// Name of the recording.
    pub recording: String,
    /// Rig, in the user's words.
    pub rig: Option<String>,
    /// True when the data come from the simulated rig; the page says so.
    pub is_simulated: bool,
    /// Tip codes of the session file, for the tip button.
    pub tips: Vec<String>,
    /// Coatings of the session file.
    pub materials: Vec<String>,
    /// Lowest rated working pressure, Pa.
    pub working_pressure_pa: Option<f64>,
    /// Units that a viewer may choose from.
    pub units: UnitTable,
    /// True once the recording has ended; nothing more will come.
    pub is_ended: bool,
}

/// The units on offer, each with what turns SI into it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitTable {
    /// Pressure units.
    pub pressure: Vec<UnitView>,
    /// Flow units.
    pub flow: Vec<UnitView>,
}

/// One unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitView {
    /// Symbol shown after a number.
    pub symbol: String,
    /// SI in one of this unit.
    pub in_si: f64,
    /// Decimals that a large figure shows.
    pub decimals: usize,
}

impl Default for UnitTable {
    fn default() -> Self {
        let pressure =
            [PressureUnit::Bar, PressureUnit::Psi, PressureUnit::Mpa].map(|unit| UnitView {
                symbol: unit.symbol().to_owned(),
                in_si: unit.in_pa(),
                decimals: pressure_decimals(unit.in_pa()),
            });
        let flow = [FlowUnit::LitrePerMinute, FlowUnit::UsGallonPerMinute].map(|unit| UnitView {
            symbol: unit.symbol().to_owned(),
            in_si: unit.in_m3_per_s(),
            decimals: 2,
        });
        Self {
            pressure: pressure.to_vec(),
            flow: flow.to_vec(),
        }
    }
}

/// How the line to the logger is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkState {
    /// Waiting for the first frame.
    #[default]
    Waiting,
    /// Frames arrive.
    OnLine,
    /// The port is there but nothing is heard.
    Silent,
    /// Bytes arrive, but no frames of a logger.
    Garbled,
    /// The port is gone; the recorder looks for the logger.
    Absent,
    /// The source ended or the recorder stopped.
    Ended,
}

/// The recorder in numbers.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct RecorderView {
    /// The line.
    pub link: LinkState,
    /// Where the bytes come from, as the user named it.
    pub source: String,
    /// Device id of the logger, hexadecimal.
    pub device: Option<String>,
    /// Time since the recording began, s.
    pub elapsed_s: f64,
    /// Pressure samples a second over the last seconds.
    pub sample_rate_hz: f64,
    /// Samples received.
    pub samples: u64,
    /// Samples known to be lost.
    pub samples_lost: u64,
    /// Flow edges known to be lost.
    pub edges_lost: u64,
    /// Damaged stretches of the stream.
    pub frames_damaged: u64,
    /// Times the line was lost and found again.
    pub reconnects: u64,
    /// Bytes in the log.
    pub log_bytes: u64,
    /// Bytes received but not yet on the disk (a full disk).
    pub held_bytes: u64,
    /// Free space where the log is, bytes.
    pub disk_free_bytes: Option<u64>,
    /// Chunks that this page missed because it was slow; the log has them.
    pub viewer_drops: u64,
    /// What needs attention, in words.
    pub warnings: Vec<String>,
}

/// What the trigger does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TriggerState {
    /// No reading.
    #[default]
    Unknown,
    /// Fluid flows.
    Spraying,
    /// No flow, pressure in the line.
    Holding,
    /// No flow and a low reading. Never a proof that the line is safe.
    LowReading,
}

/// The large figures.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Figures {
    /// Logger time of the newest sample, s.
    pub t_s: Option<f64>,
    /// Mean gauge pressure of the last quarter of a second, Pa.
    pub pressure_pa: Option<f64>,
    /// True when the converter is at an end of its range.
    pub is_saturated: bool,
    /// Flow, m3/s.
    pub flow_m3_per_s: Option<f64>,
    /// Pulses of the flow meter since the recording began.
    pub edges: u64,
    /// Trigger.
    pub trigger: TriggerState,
    /// Logger time since which it is so, s.
    pub trigger_since_s: Option<f64>,
    /// Pressure just before the trigger opened, Pa.
    pub stalled_pa: Option<f64>,
    /// `1 - spraying / stalled` of this burst, or of the last one.
    pub sag_ratio: Option<f64>,
    /// Supply or battery voltage, V.
    pub supply_v: Option<f64>,
    /// Supply or battery current, A.
    pub supply_a: Option<f64>,
    /// Coating temperature, K.
    pub material_k: Option<f64>,
    /// Air temperature, K.
    pub air_k: Option<f64>,
    /// Relative humidity of the air, 0 to 1.
    pub rh_ratio: Option<f64>,
}

/// A stretch of the trace in bins of equal length.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct TraceView {
    /// Length of a bin, s.
    pub bin_s: f64,
    /// Number of the first bin here; its time is this times `bin_s`.
    pub first: u64,
    /// Lowest pressure of each bin, Pa; `None` where nothing was sampled.
    pub low_pa: Vec<Option<f32>>,
    /// Highest pressure of each bin, Pa.
    pub high_pa: Vec<Option<f32>>,
    /// Flow in each bin, m3/s; `None` where it is not known (yet).
    pub flow_m3_per_s: Vec<Option<f32>>,
}

/// What is set now.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SettingView {
    /// Tip.
    pub tip: Option<String>,
    /// Coating.
    pub material: Option<String>,
    /// Thinner, 0 to 1.
    pub thinner_ratio: Option<f64>,
    /// Control position.
    pub dial: Option<String>,
    /// Dial positions used so far, for the dial buttons.
    pub dials_used: Vec<String>,
}

/// One burst that has ended.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BurstView {
    /// Number, from 1.
    pub number: usize,
    /// Start and end, logger time, s.
    pub from_s: f64,
    /// End.
    pub to_s: f64,
    /// Group label, for example `415, hull primer`.
    pub group: Option<String>,
    /// Spraying pressure, Pa.
    pub pressure_pa: Option<f64>,
    /// Its expanded (95 %) uncertainty from noise, Pa.
    pub u95_pressure_pa: Option<f64>,
    /// Flow, m3/s.
    pub flow_m3_per_s: Option<f64>,
    /// Its expanded (95 %) uncertainty from noise, m3/s.
    pub u95_flow_m3_per_s: Option<f64>,
    /// `1 - spraying / stalled`.
    pub sag_ratio: Option<f64>,
    /// Worst tail grade noted, 0 to 3.
    pub tails: Option<u8>,
    /// A run was noted.
    pub runs: bool,
    /// Why it is not used, in words.
    pub not_used: Option<String>,
}

/// One nozzle curve as a line to draw.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct CurveView {
    /// Group label.
    pub group: String,
    /// True for the group that is set now.
    pub is_current: bool,
    /// Pressures, ascending, Pa.
    pub pressure_pa: Vec<f64>,
    /// Flow at each, m3/s.
    pub flow_m3_per_s: Vec<f64>,
}

/// One note.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct NoteView {
    /// When, as shown: clock time or as written.
    pub time: String,
    /// What, in words; shown as text, never as markup.
    pub words: String,
    /// True when a later note took it back.
    pub is_undone: bool,
    /// Where it came from, when that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unit_table_comes_from_the_quantity_types() {
        let table = UnitTable::default();
        let text = serde_json::to_string(&table).unwrap();
        assert!(text.contains(r#"{"symbol":"psi","in_si":6894.757,"decimals":0}"#));
        assert_eq!(table.flow[1].symbol, "US gal/min");
    }

    #[test]
    fn an_update_leaves_out_what_did_not_change() {
        let text = serde_json::to_string(&Update::default()).unwrap();
        assert!(!text.contains("notes") && !text.contains("trace"), "{text}");
    }
}
