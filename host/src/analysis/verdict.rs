//! Results in, verdict out: the rule table, top to bottom. No fitting, no wording.
//!
//! [`decide_verdict`] goes through [`RULES`] in order and takes the first that speaks. What each
//! verdict advises and advises against stands in `advice`. Every limit is in
//! [`super::thresholds`]. The atomisation limit and the supply limit ask for opposite tip changes: the
//! rule that parts them speaks only beyond `DECIDE_PROBABILITY` and is undetermined between.

mod advice;
mod case;
mod draft;
mod rules;

pub use advice::advice_for;
pub use case::{Case, RunEvidence, SupplyChange};
pub use rules::{RULES, decide_verdict};

use serde::{Deserialize, Serialize};

/// What closes the window, or that nothing does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VerdictKind {
    /// The window is open.
    HealthyWindow,
    /// Pressure holds at full dial, tails remain.
    AtomisationLimit,
    /// Pressure sags as flow rises, tails remain.
    SupplyLimit,
    /// The nozzle curve fell against its baseline: restriction at the tip or gun filter.
    RestrictionTip,
    /// The supply curve fell, the nozzle curve did not move: inlet or pump.
    RestrictionInlet,
    /// The supply fell together with the battery's voltage.
    WeakBattery,
    /// The nozzle curve lies above its baseline: worn tip.
    WornTip,
    /// No tails, but the coat runs.
    ApplicationLimit,
    /// The coating's temperature explains the move.
    ColdMaterial,
    /// The data cannot carry an answer: a named measurement is missing.
    InsufficientData,
    /// The data carry more than one answer.
    Undetermined,
}

impl VerdictKind {
    /// Whether a pressure to set may stand beside it. With anything to mend first, a number would invite to turn
    /// it up.
    #[must_use]
    pub const fn allows_setting(self) -> bool {
        matches!(self, Self::HealthyWindow | Self::ApplicationLimit)
    }
}

/// One piece of advice, as a stable word; sentences are made in `report::wording`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    /// Keep the setting: lowest tail-free pressure plus a margin.
    Keep,
    /// Turn the pressure down to the recommended one.
    LowerPressure,
    /// Turn the pressure up (never above the lowest rating).
    RaisePressure,
    /// A tip with a smaller orifice.
    SmallerTip,
    /// A tip with a larger orifice.
    LargerTip,
    /// A smaller orifice at the same fan.
    SmallerOrificeSameFan,
    /// A larger orifice at the same fan.
    LargerOrificeSameFan,
    /// A wider fan.
    WiderFan,
    /// A narrower fan.
    NarrowerFan,
    /// Move the gun faster.
    FasterPass,
    /// A second pass.
    SecondPass,
    /// Thin within the label.
    ThinMaterial,
    /// Less thinner.
    LessThinner,
    /// Warm the coating within the label.
    WarmMaterial,
    /// Strain the coating.
    StrainMaterial,
    /// A pump that delivers more.
    LargerPump,
    /// Charge, swap or rest the battery.
    ChargeBattery,
    /// Relieve pressure, then clean the inlet strainer.
    CleanInletStrainer,
    /// Relieve pressure, then clean tip and gun filter.
    CleanTip,
    /// Relieve pressure, then replace the tip.
    ReplaceTip,
    /// Have the pump serviced.
    ServicePump,
    /// Record the named trial.
    CollectMoreData,
    /// Check the pressure sensor and its port.
    CheckSensor,
    /// Check the units of the readings.
    CheckUnits,
    /// Complete or correct the notes.
    FixNotes,
}

/// A number that the verdict rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// A stable code, for example `sag_ratio`, `highest_with_tails_pa`.
    pub code: String,
    /// The value, SI.
    pub value: f64,
    /// Its 95 % interval, where it has one.
    pub low: Option<f64>,
    /// Its 95 % interval, where it has one.
    pub high: Option<f64>,
    /// The threshold that it was held against, where there is one.
    pub threshold: Option<f64>,
}

/// The trial that would settle or sharpen the verdict, as a stable word with its numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "trial", rename_all = "snake_case")]
pub enum NextTrial {
    /// A burst at this pressure, with a tail grade.
    BurstAtPressure {
        /// Pressure to set, Pa.
        pressure_pa: f64,
    },
    /// A burst at full dial.
    BurstAtFullDial,
    /// Another tip at full dial.
    OtherTipAtFullDial {
        /// Smaller (true) or larger (false) than the present one.
        smaller: bool,
    },
    /// Grade the tails of every burst.
    GradeTails,
    /// Record again with the sensor mended or its range wide enough.
    RecordWithSoundSensor,
    /// Record again with one pressure unit throughout.
    RecordInOneUnit,
    /// Write the tip and a time to each note; begin with three short pulls.
    TimeTheNotes,
    /// Clean, then repeat a burst at the same pressure.
    RepeatAfterCleaning,
    /// Repeat with a full battery.
    RepeatWithFullBattery,
    /// Repeat with a new tip of the same code.
    RepeatWithNewTip,
    /// Repeat with the coating at the temperature of the baseline.
    RepeatAtTemperature {
        /// Temperature, K.
        temperature_k: f64,
    },
    /// Repeat one burst at the recommended pressure to confirm it.
    ConfirmRecommended {
        /// Pressure to set, Pa.
        pressure_pa: f64,
    },
}

/// The verdict on one tip with one coating on this rig.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Index of the group that it is about.
    pub group_index: usize,
    /// What closes the window.
    pub kind: VerdictKind,
    /// How sure, 0 to 1.
    pub confidence: f64,
    /// The numbers that it rests on.
    pub evidence: Vec<Evidence>,
    /// What helps, most useful first.
    pub advice: Vec<Advice>,
    /// What makes it worse.
    pub advice_against: Vec<Advice>,
    /// The trial that would sharpen it.
    pub next_trial: Option<NextTrial>,
    /// For `undetermined` and `insufficient_data`: codes of what is missing or contradictory.
    pub because: Vec<String>,
}

#[cfg(test)]
mod tests;
