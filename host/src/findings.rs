//! Everything that the analysis found in one recording: the value that reports, tables and the
//! page are made from. Types only.

use crate::analysis::align::Alignment;
use crate::analysis::burst::Burst;
use crate::analysis::clock::ClockModel;
use crate::analysis::group::{Group, Setting};
use crate::analysis::health::Defect;
use crate::analysis::nozzle_curve::{CurveRefusal, NozzleCurve};
use crate::analysis::signal::Signal;
use crate::analysis::steady::SteadyMeasurement;
use crate::analysis::supply_curve::{Crossing, SupplyCurve};
use crate::analysis::tail_threshold::{Grade, TailThreshold};
use crate::analysis::verdict::Verdict;
use crate::analysis::window::Window;
use crate::energy_findings::EnergyFinding;
use crate::estimate::Estimate;
use crate::recording::LoadDefect;
use crate::recording::notes::Note;
use crate::recording::settings::{Settings, Tip};

/// One burst with everything that is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct BurstFinding {
    /// When.
    pub burst: Burst,
    /// Its steady part.
    pub steady: SteadyMeasurement,
    /// What was set, carried forward from the notes; empty when no note reaches it.
    pub setting: Setting,
    /// Notes that describe it (indices), not ambiguous ones.
    pub note_indices: Vec<usize>,
    /// Worst tail grade noted, 0 to 3.
    pub tails: Option<u8>,
    /// A run was noted.
    pub runs: Option<bool>,
    /// Wet film comb reading, m.
    pub comb_m: Option<f64>,
    /// Index of its group.
    pub group_index: Option<usize>,
}

/// One group with its curve, grades and window.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupFinding {
    /// What defines it.
    pub group: Group,
    /// The tip as the settings describe it, or as its code does.
    pub tip: Option<Tip>,
    /// The nozzle curve, or why there is none.
    pub curve: Result<NozzleCurve, CurveRefusal>,
    /// Tail grades.
    pub grades: Vec<Grade>,
    /// The lowest tail-free pressure.
    pub tail_threshold: TailThreshold,
    /// Where the supply curve at full dial meets the nozzle curve.
    pub crossing: Option<Crossing>,
    /// The working window.
    pub window: Option<Window>,
    /// Equivalent orifice, m, at a nominal discharge coefficient that the report states.
    pub equivalent_orifice_m: Option<Estimate>,
    /// Equivalent orifice over nominal orifice.
    pub orifice_ratio: Option<Estimate>,
    /// The same setting's earlier state that this one was compared with (group index).
    pub baseline_group: Option<usize>,
    /// Flow over the baseline's at the same pressure: of both curves, or of the step that parts the two states where
    /// one of them has no curve.
    pub flow_ratio_to_baseline: Option<Estimate>,
    /// What the change of coating temperature since the baseline makes of that ratio, where the coating's
    /// viscosity is known at two temperatures.
    pub flow_ratio_by_temperature: Option<Estimate>,
}

/// Air at the place of work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Mean air temperature, K.
    pub air_k: Estimate,
    /// Mean relative humidity, 0 to 1.
    pub humidity_ratio: Estimate,
    /// Dew point, K.
    pub dew_point_k: Estimate,
    /// Lowest temperature of a surface that may be coated, K (ISO 8502-4): dew point, its expanded
    /// uncertainty and the margin.
    pub least_surface_k: f64,
}

/// A timed catch in the notes against the meter.
#[derive(Debug, Clone, PartialEq)]
pub struct CatchCheck {
    /// Index of the note.
    pub note_index: usize,
    /// Index of the burst.
    pub burst_index: usize,
    /// Metered over caught flow, or why there is none.
    pub metered_over_caught: Result<Estimate, String>,
}

/// Everything found in one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// Name of the recording.
    pub name: String,
    /// True when made by the simulated rig.
    pub is_simulated: bool,
    /// Settings as read.
    pub settings: Settings,
    /// Notes as read.
    pub notes: Vec<Note>,
    /// What was lost on loading.
    pub load_defects: Vec<LoadDefect>,
    /// The signal that the analysis read, for figures.
    pub signal: Signal,
    /// Zero correction applied to every pressure (subtracted), Pa.
    pub zero_pa: Estimate,
    /// Health.
    pub defects: Vec<Defect>,
    /// Host clock against logger clock, where arrivals tell.
    pub clock: Option<ClockModel>,
    /// The air, where it was logged.
    pub air: Option<Air>,
    /// Timed catches of the notes against the meter.
    pub catches: Vec<CatchCheck>,
    /// Notes to bursts.
    pub alignment: Alignment,
    /// Bursts in order of time.
    pub bursts: Vec<BurstFinding>,
    /// Groups in order of their first burst.
    pub groups: Vec<GroupFinding>,
    /// Supply curves, one a control position with enough points, full dial first.
    pub supply: Vec<SupplyCurve>,
    /// One verdict a setting (its latest state), the main subject first.
    pub verdicts: Vec<Verdict>,
    /// Power and charge; `None` when no supply voltage was logged.
    pub energy: Option<EnergyFinding>,
}
