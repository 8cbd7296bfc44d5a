//! Everything that a verdict may look at.

use crate::analysis::clearing::ClearingPosterior;
use crate::analysis::health::DefectKind;
use crate::analysis::nozzle_curve::{CurveRefusal, NozzleCurve};
use crate::analysis::supply_curve::Crossing;
use crate::analysis::tail_threshold::TailThreshold;
use crate::analysis::window::Window;
use crate::estimate::Estimate;

/// What was noted about runs among the tail-free bursts nearest to the lowest tail-free pressure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RunEvidence {
    /// Tail-free bursts with a word about runs.
    pub n_tail_free: usize,
    /// Of these, bursts that ran.
    pub n_ran: usize,
}

/// How the pressure held at one position with one tip changed within the recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyChange {
    /// Held pressure later over earlier.
    pub held_ratio: Estimate,
    /// Probability of such a step by chance.
    pub p_value: f64,
    /// Supply voltage under load, later over earlier, where it was logged.
    pub voltage_ratio: Option<f64>,
    /// The rig runs from a battery as far as the settings say.
    pub has_battery: bool,
}

/// Everything that a verdict may look at, for one setting in its latest state.
#[derive(Debug, Clone)]
pub struct Case<'a> {
    /// Index of the group.
    pub group_index: usize,
    /// The nozzle curve, or why there is none.
    pub curve: Result<&'a NozzleCurve, &'a CurveRefusal>,
    /// Defects that make the readings untrustworthy for this group, worst first.
    pub fatal_defects: &'a [DefectKind],
    /// Notes cannot be placed: which tip or coating a burst had is not known.
    pub is_alignment_ambiguous: bool,
    /// Lowest tail-free pressure.
    pub threshold: &'a TailThreshold,
    /// Posterior of the clearing pressure.
    pub clearing: Option<&'a ClearingPosterior>,
    /// Working window.
    pub window: Option<&'a Window>,
    /// Highest pressure held at full position.
    pub crossing: Option<&'a Crossing>,
    /// Pressure that the rig stalls at at full position, Pa.
    pub stalled_full_pa: Option<f64>,
    /// False when the highest position used is known not to be the rig's full one.
    pub is_full_known: bool,
    /// Runs.
    pub runs: RunEvidence,
    /// Equivalent over stamped orifice.
    pub orifice_ratio: Option<Estimate>,
    /// Time sprayed with the tip, s, where the settings say it.
    pub tip_used_s: Option<f64>,
    /// Flow at one pressure, this state over the earlier state of the same setting.
    pub flow_ratio_to_baseline: Option<Estimate>,
    /// Temperature of this state minus that of the baseline, K.
    pub temperature_change_k: Option<f64>,
    /// Posterior of the clearing pressure of the baseline.
    pub baseline_clearing: Option<&'a ClearingPosterior>,
    /// Change of the supply within this setting.
    pub supply_change: Option<SupplyChange>,
    /// Thinner is at the label's limit.
    pub is_thinner_at_limit: bool,
    /// The nozzle curve is fixed by the latest state alone (no baseline needed).
    pub baseline_temperature_k: Option<f64>,
}
