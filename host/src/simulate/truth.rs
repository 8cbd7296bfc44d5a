//! The truth beside a recording, with the keys of the truth files in the plain-text fixtures.
//!
//! Types only; [`super::answer`] fills them. They read the fixtures' truth files as well as they write
//! the simulated rig's own: one test over both asks the same questions. Pressures are in bar at the
//! tap unless a key says otherwise, flows in L/min, times in logger seconds.

use serde::{Deserialize, Serialize};

/// Everything that is known of a recording but not written in it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Version of these keys.
    pub schema: u32,
    /// Name of the recording.
    pub case: String,
    /// Family of situations.
    pub family: String,
    /// Finer kind within the family, or empty.
    pub subkind: String,
    /// The right verdict.
    pub label: String,
    /// Verdicts that count as right.
    pub accept_labels: Vec<String>,
    /// What the verdict is about.
    pub subject: Subject,
    /// `clear` when the notes can be lined up.
    pub alignment: String,
    /// Whether the tool has to refuse.
    pub refusal: Refusal,
    /// What limits the supply: `power`, `stroke` or empty.
    pub limit_kind: String,
    /// Steady point of the subject at full dial, at the start.
    pub hold: Hold,
    /// Flow that the rig delivers at most against pressure, full dial.
    pub supply_max_dial: Supply,
    /// States with one nozzle curve each.
    pub groups: Vec<TruthGroup>,
    /// Pulls of the trigger.
    pub bursts: Vec<TruthBurst>,
    /// Rows of the notes.
    pub notes: Vec<TruthNote>,
    /// The answer to `asked.plan`.
    pub plan: Option<PlanAnswer>,
    /// The person who grades.
    pub grader: Grader,
    /// What the sensors did wrong.
    pub errors: Errors,
    /// Advice that may be given and advice that may not.
    pub advice: AdviceTruth,
    /// What the tool is asked.
    pub asked: Asked,
}

/// A tip with a coating.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Subject {
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, percent by volume of coating.
    pub thinner_pct: f64,
}

/// Whether the tool has to refuse, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Refusal {
    /// True when no verdict can be given.
    pub expected: bool,
    /// Why, or empty.
    pub reason: String,
}

/// Steady point at full dial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hold {
    /// The dial.
    pub dial: String,
    /// Pressure at the tap.
    pub pressure_tap_bar: f64,
    /// Flow.
    pub flow_l_min: f64,
    /// Set pressure at full dial.
    pub p_max_bar: f64,
}

/// Supply curve at full dial: pairs of pressure (bar) and flow (L/min).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Supply {
    /// At the start of the recording.
    pub start: Vec<(f64, f64)>,
    /// At its end.
    pub end: Vec<(f64, f64)>,
    /// Where the pressure is meant: `pump`.
    pub pressure_at: String,
}

/// A state with one nozzle curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthGroup {
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, percent.
    pub thinner_pct: f64,
    /// Which state, or empty.
    pub phase: String,
    /// Bursts that belong to it.
    pub bursts: Vec<usize>,
    /// Mean coating temperature, degrees Celsius.
    pub material_c: f64,
    /// Where the pressure is meant: `tap`.
    pub pressure_at: String,
    /// Pressures further than 2.5 % apart.
    pub distinct_pressures: usize,
    /// Diameter of the opening as it is.
    pub equivalent_orifice_mm: f64,
    /// Diameter as stamped.
    pub nominal_orifice_mm: f64,
    /// Where a perfect grader sees the tails vanish.
    pub p_clear_bar: f64,
    /// Where the coat starts to run.
    pub p_run_bar: f64,
    /// Lowest and highest pressure visited.
    pub p_range_bar: (f64, f64),
    /// Geometric mean of the range.
    pub p_ref_bar: f64,
    /// Flow there by the fit.
    pub q_ref_l_min: f64,
    /// Exponent of a log-log fit of the noise-free curve over the range.
    pub n: f64,
    /// Its flow at 1 bar.
    pub k: f64,
    /// The noise-free curve: pressure, flow.
    pub curve: Vec<(f64, f64)>,
}

/// A pull of the trigger.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthBurst {
    /// Trigger pulled.
    pub start_s: f64,
    /// Trigger let go.
    pub end_s: f64,
    /// Begin of what the means cover.
    pub steady_from_s: f64,
    /// `spray`, `test` or `sync`.
    pub kind: String,
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, percent.
    pub thinner_pct: f64,
    /// Coating temperature, degrees Celsius.
    pub material_c: f64,
    /// The dial.
    pub dial: String,
    /// Mean pressure at the tap.
    pub pressure_tap_bar: f64,
    /// Mean pressure at the pump.
    pub pressure_pump_bar: f64,
    /// Mean flow.
    pub flow_l_min: f64,
    /// Which state, or empty.
    pub phase: String,
}

/// A row of the notes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthNote {
    /// Row, from 0.
    pub row: usize,
    /// The burst that it describes.
    pub burst: Option<usize>,
    /// Whether its alignment can be asked.
    pub scored: bool,
    /// When it was written.
    pub time_s: f64,
    /// Its event.
    pub event: String,
}

/// A tip that was not measured, predicted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanAnswer {
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, percent.
    pub thinner_pct: f64,
    /// The dial.
    pub dial: String,
    /// Pressure at the tap that the rig would hold.
    pub pressure_bar: f64,
    /// Flow there.
    pub flow_l_min: f64,
}

/// The person who grades.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Grader {
    /// How the time is written.
    pub style: String,
    /// Standard deviation of the logarithm of the pressure where tails are seen to vanish.
    pub grader_spread: f64,
    /// The person's clock less true time, s.
    pub watch_offset_s: f64,
}

/// What the sensors did wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Errors {
    /// Zero of the pressure.
    pub zero_bar: f64,
    /// Relative error of its span.
    pub span: f64,
    /// Standard deviation of its noise.
    pub noise_bar: f64,
    /// Bits of the converter.
    pub bits: u32,
    /// Relative error of the K-factor.
    pub meter_bias: f64,
    /// Flow that slips past the meter, mL/s.
    pub slip: f64,
    /// Part of the rows or samples that went missing.
    pub missing: f64,
    /// Part of the pulses that bounced.
    pub bounce: f64,
    /// Flow in the middle of the range, mL/s, against which to hold the slip.
    pub slip_mid_ml_s: f64,
    /// Error of the logger's clock, millionths.
    pub clock_ppm: f64,
    /// Rows or samples per second.
    pub rate_hz: f64,
    /// Rows or samples.
    pub rows: usize,
}

/// Advice words for this case.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdviceTruth {
    /// May be given.
    pub allowed: Vec<String>,
    /// May not be given.
    pub forbidden: Vec<String>,
}

/// What the tool is asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// The verdict's subject.
    pub subject: Subject,
    /// A tip to predict.
    pub plan: Option<PlanQuestion>,
}

/// A tip to predict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanQuestion {
    /// Tip code.
    pub tip: String,
    /// Coating.
    pub material: String,
    /// Thinner, percent.
    pub thinner_pct: f64,
    /// The dial.
    pub dial: String,
}
