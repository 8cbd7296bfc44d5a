//! When each sample was taken, held as evenly timed stretches.
//!
//! A logger samples evenly for hours, so that a stretch is a start, a step and a count: a time for each sample
//! would take twice the room of the samples themselves, and most of the time of reading a log. Times are
//! computed from whole ticks, so that they are the doubles nearest to them however long the stretch.

use super::timeline::Line;

/// Logger times of the samples of a log, strictly increasing, in the order of the samples.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SampleTimes {
    stretches: Vec<Stretch>,
    len: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    /// Number of its first sample.
    first: usize,
    line: Line,
    period_ticks: u32,
}

impl Stretch {
    fn t_s(&self, index: usize) -> f64 {
        self.line.ahead_s(self.ticks_to(index))
    }

    /// Ticks from its first sample to the sample of that number.
    #[expect(clippy::cast_precision_loss, reason = "2^53 ticks are 285 years")]
    fn ticks_to(&self, index: usize) -> f64 {
        (index - self.first) as f64 * f64::from(self.period_ticks)
    }
}

impl SampleTimes {
    /// How many samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there is no sample.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Logger time of the first sample, s.
    #[must_use]
    pub fn first(&self) -> Option<f64> {
        self.stretches.first().map(|s| s.t_s(s.first))
    }

    /// Logger time of the last sample, s.
    #[must_use]
    pub fn last(&self) -> Option<f64> {
        self.stretches.last().map(|s| s.t_s(self.len - 1))
    }

    /// Every time, s, one a sample.
    pub fn iter(&self) -> impl Iterator<Item = f64> {
        let ends = self.stretches.iter().skip(1).map(|s| s.first);
        let ends = ends.chain([self.len]);
        self.stretches
            .iter()
            .zip(ends)
            .flat_map(|(s, end)| (s.first..end).map(|i| s.t_s(i)))
    }

    /// Every time, s, one a sample: 8 bytes each.
    #[must_use]
    pub fn to_vec(&self) -> Vec<f64> {
        let mut t_s = Vec::with_capacity(self.len);
        t_s.extend(self.iter());
        t_s
    }

    /// Adds `n` samples, the first on `line` at its beginning, the others `period_ticks` apart.
    pub(super) fn push(&mut self, line: Line, period_ticks: u32, n: usize) {
        if n == 0 {
            return;
        }
        let goes_on = self.stretches.last().is_some_and(|s| {
            s.period_ticks == period_ticks && s.line.ahead(s.ticks_to(self.len)) == line
        });
        if !goes_on {
            self.stretches.push(Stretch {
                first: self.len,
                line,
                period_ticks,
            });
        }
        self.len += n;
    }
}

impl FromIterator<f64> for SampleTimes {
    /// Times of any spacing, each a stretch of its own.
    fn from_iter<T: IntoIterator<Item = f64>>(times_s: T) -> Self {
        let mut times = Self::default();
        for t_s in times_s {
            times.push(Line::from_t_s(t_s), 0, 1);
        }
        times
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::timeline::Timeline;

    #[test]
    fn even_blocks_are_one_stretch_and_times_are_the_nearest_doubles() {
        let mut timeline = Timeline::default();
        timeline.hear(0, None);
        let mut times = SampleTimes::default();
        for block in 0..1_000_u64 {
            times.push(timeline.line(block * 3 * 2_001), 2_001, 3);
        }
        assert_eq!(times.stretches.len(), 1);
        let expected: Vec<f64> = (0..3_000_u32).map(|i| f64::from(i * 2_001) / 1e6).collect();
        assert_eq!(times.to_vec(), expected);
        assert_eq!(times.first(), Some(0.0));
        assert_eq!(times.last(), expected.last().copied());
    }

    #[test]
    fn gap_rate_and_restart_begin_a_stretch() {
        let mut timeline = Timeline::default();
        timeline.hear(0, None);
        let mut times = SampleTimes::default();
        times.push(timeline.line(0), 1_000, 2);
        times.push(timeline.line(5_000), 1_000, 2);
        times.push(timeline.line(7_000), 500, 2);
        timeline.hear(8_000, None);
        timeline.restart();
        timeline.hear(0, None);
        times.push(timeline.line(0), 500, 1);
        assert_eq!(times.stretches.len(), 4);
        let got: Vec<f64> = times.iter().collect();
        // The last begins a hundredth of a second after what was heard before the restart.
        let restarted_s = 0.008 + 0.01;
        let expected = [0.0, 0.001, 0.005, 0.006, 0.007, 0.0075, restarted_s];
        assert_eq!(got, expected);
        assert_eq!((times.len(), times.last()), (7, Some(restarted_s)));
    }

    #[test]
    fn no_sample_has_no_time() {
        let mut times = SampleTimes::default();
        times.push(Line::from_t_s(3.0), 1_000, 0);
        assert!(times.is_empty());
        assert_eq!((times.first(), times.last()), (None, None));
        assert!(times.to_vec().is_empty());
    }

    #[test]
    fn any_times_stay_as_they_are() {
        let times: SampleTimes = [0.1, 0.25, 7.0].into_iter().collect();
        assert_eq!(times.to_vec(), [0.1, 0.25, 7.0]);
    }
}
