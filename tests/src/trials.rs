//! Trials of the project's own simulated rig, analysed and held against their truth.

use tipcurve::findings::Findings;
use tipcurve::simulate::record::to_recording;
use tipcurve::simulate::scenario::{TrialKind, trial};

use crate::score::{Score, score};
use crate::truth::{Truth, truth_of};

/// One trial with what was found in it.
pub struct Scored {
    /// What was found, without the truth.
    pub findings: Findings,
    /// The truth, its family the kind of trial.
    pub truth: Truth,
    /// The one held against the other.
    pub score: Score,
}

/// Simulates and analyses a trial. The truth is read from its JSON, as that of any recording.
///
/// # Panics
/// When the simulator's truth lacks a key that truth files have.
#[must_use]
pub fn score_trial(kind: TrialKind, seed: u64) -> Scored {
    let (recording, truth) = to_recording(&trial(kind, seed));
    let findings = tipcurve::pipeline::analyse(recording);
    let json = serde_json::to_value(&truth);
    let json = json.unwrap_or_else(|fault| panic!("the truth of {}: {fault}", kind.name()));
    let mut truth = truth_of(&json);
    kind.name().clone_into(&mut truth.family);
    let score = score(&findings, &truth);
    Scored {
        findings,
        truth,
        score,
    }
}
