//! Median of a stretch that moves along a series: one step costs as much as what enters and leaves,
//! not as much as what is inside.
//!
//! Values are finite; a stretch moves forward only. Knows nothing of time or of what the values are.

use std::ops::Range;

/// The value at a share of a list put in order: at 0.5 the median, of an even number the upper one. `None` for an
/// empty list. Puts the list into another order.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a share of a length is no longer than the length"
)]
pub fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (values.len() as f64 * share) as usize;
    Some(
        *values
            .select_nth_unstable_by(at.min(last), f64::total_cmp)
            .1,
    )
}

/// Median of a moving stretch.
#[derive(Debug)]
pub struct SlidingMedian<'a> {
    values: &'a [f64],
    inside: Range<usize>,
    sorted: Vec<f64>,
}

impl<'a> SlidingMedian<'a> {
    /// Over these values; the stretch is empty at first.
    #[must_use]
    pub fn new(values: &'a [f64]) -> Self {
        Self {
            values,
            inside: 0..0,
            sorted: Vec::new(),
        }
    }

    /// Moves the stretch and says its median. Neither end may move back.
    pub fn median_of(&mut self, stretch: Range<usize>) -> Option<f64> {
        if stretch.start >= self.inside.end {
            self.sorted.clear();
            self.sorted.extend_from_slice(&self.values[stretch.clone()]);
            self.sorted.sort_unstable_by(f64::total_cmp);
        } else {
            for value in &self.values[self.inside.end..stretch.end] {
                let at = self.sorted.partition_point(|s| s.total_cmp(value).is_lt());
                self.sorted.insert(at, *value);
            }
            for value in &self.values[self.inside.start..stretch.start] {
                let at = self.sorted.partition_point(|s| s.total_cmp(value).is_lt());
                self.sorted.remove(at);
            }
        }
        self.inside = stretch;
        self.sorted.get(self.sorted.len() / 2).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::{prop, prop_assert_eq, proptest};

    proptest! {
        #[test]
        fn a_moving_stretch_agrees_with_each_stretch_alone(
            values in prop::collection::vec(prop::sample::select(vec![-1.5, 0.0, 0.25, 1.0, 7.0]), 1..60),
            moves in prop::collection::vec((0..9_usize, 0..9_usize), 1..30),
        ) {
            let mut median = SlidingMedian::new(&values);
            let (mut start, mut end) = (0, 0);
            for (by_start, by_end) in moves {
                end = (end + by_end).min(values.len());
                start = (start + by_start).min(end);
                let mut alone = values[start..end].to_vec();
                prop_assert_eq!(median.median_of(start..end), quantile(&mut alone, 0.5));
            }
        }
    }

    #[test]
    fn quantiles_of_few_values() {
        assert_eq!(quantile(&mut [], 0.5), None);
        assert_eq!(quantile(&mut [3.0], 1.0), Some(3.0));
        assert_eq!(quantile(&mut [4.0, 1.0, 3.0, 2.0], 0.5), Some(3.0));
        assert_eq!(quantile(&mut [4.0, 1.0, 3.0, 2.0], 0.25), Some(2.0));
    }
}
