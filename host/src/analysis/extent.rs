//! Lowest and highest of many values.

use crate::estimate::Interval;

/// As many comparisons as go on side by side.
const LANES: usize = 8;

/// Lowest and highest value; `NaN` is left out. `None` where nothing is left.
///
/// *Cost*: linear, several values a step: a recording of hours is asked for its highest pressure by half a dozen
/// steps of the analysis.
#[must_use]
pub fn extent(values: &[f64]) -> Option<Interval> {
    let (mut low, mut high) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let (chunks, rest) = values.as_chunks::<LANES>();
    let mut take = |lane: usize, v: f64| {
        // Both comparisons are false for NaN.
        if v < low[lane] {
            low[lane] = v;
        }
        if v > high[lane] {
            high[lane] = v;
        }
    };
    for chunk in chunks {
        for (lane, v) in chunk.iter().enumerate() {
            take(lane, *v);
        }
    }
    for (lane, v) in rest.iter().enumerate() {
        take(lane, *v);
    }
    let low = low.into_iter().fold(f64::INFINITY, f64::min);
    let high = high.into_iter().fold(f64::NEG_INFINITY, f64::max);
    (low <= high).then_some(Interval { low, high })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn it_is_what_a_plain_search_finds(
            values in prop::collection::vec(prop_oneof![4 => -1e9..1e9_f64, 1 => Just(f64::NAN)], 0..100)
        ) {
            let finite = || values.iter().copied().filter(|v: &f64| !v.is_nan());
            let expected = finite().next().map(|_| Interval {
                low: finite().fold(f64::INFINITY, f64::min),
                high: finite().fold(f64::NEG_INFINITY, f64::max),
            });
            prop_assert_eq!(extent(&values), expected);
        }
    }
}
