//! A verdict in the making: its evidence and what each rule adds.

use super::advice::advice_for;
use super::case::Case;
use super::{Advice, Evidence, NextTrial, Verdict, VerdictKind};
use crate::analysis::tail_threshold::TailThreshold;
use crate::estimate::Estimate;

/// A verdict with the evidence common to all, and the advice of its kind.
pub(super) fn draft(case: &Case, kind: VerdictKind, confidence: f64) -> Verdict {
    let (advice, against) = advice_for(kind);
    let mut advice = advice.to_vec();
    if case.is_thinner_at_limit {
        advice.retain(|a| *a != Advice::ThinMaterial);
    }
    Verdict {
        group_index: case.group_index,
        kind,
        confidence: confidence.clamp(0.0, 1.0),
        evidence: common_evidence(case),
        advice,
        advice_against: against.to_vec(),
        next_trial: None,
        because: Vec::new(),
    }
}

impl Verdict {
    pub(super) fn because(mut self, code: &str) -> Self {
        self.because.push(code.to_owned());
        self
    }

    pub(super) fn next(mut self, trial: NextTrial) -> Self {
        self.next_trial = Some(trial);
        self
    }

    pub(super) fn advise(mut self, advice: &[Advice]) -> Self {
        self.advice = advice.to_vec();
        self
    }

    pub(super) fn with(mut self, code: &str, value: f64, threshold: Option<f64>) -> Self {
        self.evidence.push(Evidence {
            code: code.to_owned(),
            value,
            low: None,
            high: None,
            threshold,
        });
        self
    }

    pub(super) fn with_estimate(mut self, code: &str, e: &Estimate, threshold: f64) -> Self {
        let i = e.interval_95();
        self.evidence.push(Evidence {
            code: code.to_owned(),
            value: e.value,
            low: Some(i.low),
            high: Some(i.high),
            threshold: Some(threshold),
        });
        self
    }
}

/// Stalled pressure at full position to the pressure held there, as the share that is lost; `None` where either was not
/// measured.
pub(super) fn sag_ratio(case: &Case) -> Option<f64> {
    let held = case.crossing.filter(|c| c.is_measured)?.pressure_pa.value;
    case.stalled_full_pa.map(|s| 1.0 - held / s)
}

fn common_evidence(case: &Case) -> Vec<Evidence> {
    let mut list = Vec::new();
    let mut push = |code: &str, value: f64, low: Option<f64>, high: Option<f64>| {
        list.push(Evidence {
            code: code.to_owned(),
            value,
            low,
            high,
            threshold: None,
        });
    };
    if let Some(c) = case.crossing {
        let i = c.interval_95_pa;
        let code = if c.is_measured {
            "held_pressure_pa"
        } else {
            "held_pressure_computed_pa"
        };
        push(code, c.pressure_pa.value, Some(i.low), Some(i.high));
    }
    match case.threshold {
        TailThreshold::Between {
            estimate_pa,
            interval_95_pa: i,
            ..
        } => push(
            "lowest_tail_free_pa",
            *estimate_pa,
            Some(i.low),
            Some(i.high),
        ),
        TailThreshold::Above {
            highest_with_tails_pa,
            ..
        } => push("highest_with_tails_pa", *highest_with_tails_pa, None, None),
        TailThreshold::Below {
            lowest_without_pa, ..
        } => push("lowest_without_tails_pa", *lowest_without_pa, None, None),
        TailThreshold::NoGrades => {}
    }
    if let Some(sag) = sag_ratio(case) {
        push("sag_ratio", sag, None, None);
    }
    list
}
