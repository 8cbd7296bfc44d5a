//! Yes, no or cannot tell: an estimate held against a limit, and a change held against a margin.
//!
//! An answer is given only when the whole 95 % interval lies on one side. A change is judged by
//! the logic of an equivalence test: to say "did not move" the change must be shown to be smaller than
//! what matters; that nothing was seen is not enough. No limits here: they are arguments.

use serde::{Deserialize, Serialize};

use crate::estimate::Estimate;
use crate::estimate::budget::coverage_factor;

/// An answer to a question that has two.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// The whole 95 % interval says so.
    Yes,
    /// The whole 95 % interval says the opposite.
    No,
    /// The interval holds both.
    CannotTell,
}

impl Answer {
    /// Whether an estimate is at least `limit`: yes when its whole 95 % interval is, no when none of it
    /// is. Cannot tell when anything is not a number.
    #[must_use]
    pub fn is_at_least(estimate: &Estimate, limit: f64) -> Self {
        let interval = estimate.interval_95();
        if interval.low >= limit {
            Self::Yes
        } else if interval.high < limit {
            Self::No
        } else {
            Self::CannotTell
        }
    }
}

/// What became of something between two occasions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// It rose: no change is outside the 95 % interval, and a change that matters is inside.
    MovedUp,
    /// It fell: likewise.
    MovedDown,
    /// It is shown to have changed by less than what matters.
    DidNotMove,
    /// The data allow both no change and one that matters.
    CannotTell,
}

impl Change {
    /// Judge a difference that would be zero without a change, against the least one that matters.
    ///
    /// Two one-sided tests at 5 % each: "did not move" when the 90 % interval lies within
    /// `-margin..margin` (Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657); "moved" when it does
    /// not and the 95 % interval leaves zero out.
    #[must_use]
    pub fn of(difference: &Estimate, margin: f64) -> Self {
        let dof = difference.effective_dof();
        let half_90 = coverage_factor(0.90, dof) * difference.u_combined();
        let value = difference.value;
        if !(value.is_finite() && half_90.is_finite()) {
            return Self::CannotTell;
        }
        if value.abs() + half_90 <= margin {
            return Self::DidNotMove;
        }
        let half_95 = difference.expanded_95();
        if value - half_95 > 0.0 {
            Self::MovedUp
        } else if value + half_95 < 0.0 {
            Self::MovedDown
        } else {
            Self::CannotTell
        }
    }

    /// True for both directions of a move.
    #[must_use]
    pub const fn has_moved(self) -> bool {
        matches!(self, Self::MovedUp | Self::MovedDown)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_needs_the_whole_interval_on_one_side() {
        let e = Estimate::new(10.0, 1.0, 0.0);
        assert_eq!(Answer::is_at_least(&e, 8.0), Answer::Yes);
        assert_eq!(Answer::is_at_least(&e, 12.0), Answer::No);
        assert_eq!(Answer::is_at_least(&e, 10.0), Answer::CannotTell);
        assert_eq!(Answer::is_at_least(&e, f64::NAN), Answer::CannotTell);
        let few = e.with_dof(2.0);
        assert_eq!(Answer::is_at_least(&few, 8.0), Answer::CannotTell);
    }

    #[test]
    fn not_seen_to_move_is_not_the_same_as_did_not_move() {
        #[track_caller]
        fn check(value: f64, u: f64, expected: Change) {
            assert_eq!(Change::of(&Estimate::new(value, u, 0.0), 0.05), expected);
        }
        check(0.00, 0.01, Change::DidNotMove);
        check(0.00, 0.10, Change::CannotTell);
        check(0.20, 0.02, Change::MovedUp);
        check(-0.20, 0.02, Change::MovedDown);
        // Different from zero, but shown to be smaller than what matters.
        check(0.02, 0.005, Change::DidNotMove);
        // Different from zero, and perhaps larger than what matters.
        check(0.06, 0.02, Change::MovedUp);
        check(f64::NAN, 0.01, Change::CannotTell);
        // Both sides of the equivalence limit: 0.03 + 1.645 u against 0.05.
        check(0.03, 0.0121, Change::DidNotMove);
        check(0.03, 0.0122, Change::MovedUp);
    }
}
