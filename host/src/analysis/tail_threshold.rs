//! Ordinal tail grades against pressure to a bracket and an interval. Never extrapolates.

use serde::{Deserialize, Serialize};

use crate::estimate::Interval;

/// One grade: tails at a spraying pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Grade {
    /// Index of the burst in the recording.
    pub burst_index: usize,
    /// Spraying pressure, Pa.
    pub pressure_pa: f64,
    /// 0 none, 1 faint, 2 clear, 3 heavy.
    pub tails: u8,
}

/// The lowest tail-free pressure, as far as the grades carry it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum TailThreshold {
    /// Bracketed by grades on both sides.
    Between {
        /// Pressure at which tails are as likely seen as not, Pa.
        estimate_pa: f64,
        /// Standard uncertainty from the grades, Pa.
        u_pa: f64,
        /// 95 % profile-likelihood interval, Pa.
        interval_95_pa: Interval,
        /// Highest pressure with tails, Pa.
        highest_with_tails_pa: f64,
        /// Lowest pressure without, Pa.
        lowest_without_pa: f64,
        /// True when grades overlap: some pressure with tails lies above one without.
        overlap: bool,
    },
    /// All grades have tails: the threshold lies above.
    Above {
        /// Highest pressure graded, Pa.
        highest_with_tails_pa: f64,
        /// Number of grades.
        n_grades: usize,
    },
    /// No grade has tails: the threshold lies below.
    Below {
        /// Lowest pressure graded, Pa.
        lowest_without_pa: f64,
        /// Number of grades.
        n_grades: usize,
    },
    /// No grade at all.
    NoGrades,
}
