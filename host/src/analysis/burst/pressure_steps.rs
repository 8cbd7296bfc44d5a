//! Falls, rises, dips and recoveries of pressure.

use std::borrow::Cow;

use crate::analysis::extent::extent;
use crate::analysis::sliding::{SlidingMedian, quantile};

/// Half-width of the two stretches that a step is the difference of, s.
const STEP_WINDOW_S: f64 = 0.12;
/// A step is one when it exceeds this share of the pressure and five times the noise.
const LEAST_STEP_RATIO: f64 = 0.008;
/// Length of the stretch that must be quiet before a dip, s.
const QUIET_S: f64 = 0.3;

/// The finite pressure samples of a signal with what is known of their noise.
pub(super) struct PressureTrace<'a> {
    t_s: Cow<'a, [f64]>,
    p_pa: Cow<'a, [f64]>,
    noise_pa: f64,
    highest_pa: f64,
    usual_step_s: f64,
}

/// Differences that a quartile is taken of at most: evenly spread, a million of them say as much as all.
const MOST_DIFFERENCES: usize = 1 << 20;

/// The lower quartile of the differences of neighbours, 0 without any.
fn quartile_of_differences(values: &[f64]) -> f64 {
    let step = values.len().div_ceil(MOST_DIFFERENCES).max(1);
    let pairs = values.windows(2).step_by(step);
    let mut differences: Vec<f64> = pairs.map(|w| (w[1] - w[0]).abs()).collect();
    quantile(&mut differences, 0.25).unwrap_or(0.0)
}

impl<'a> PressureTrace<'a> {
    pub(super) fn new(t_s: &'a [f64], pressure_pa: &'a [f64]) -> Self {
        let is_whole = t_s.len() == pressure_pa.len() && pressure_pa.iter().all(|p| p.is_finite());
        let (t_s, p_pa) = if is_whole {
            (Cow::from(t_s), Cow::from(pressure_pa))
        } else {
            let both = t_s.iter().zip(pressure_pa);
            let finite = both.filter(|(_, p)| p.is_finite());
            let (t_s, p_pa): (Vec<f64>, Vec<f64>) = finite.map(|(t, p)| (*t, *p)).unzip();
            (t_s.into(), p_pa.into())
        };
        Self {
            highest_pa: extent(&p_pa).map_or(0.0, |range| range.high.max(0.0)),
            usual_step_s: quartile_of_differences(&t_s),
            // The lower quartile of |step| belongs to the quiet stretches even where spraying fills most
            // of the recording: for normal noise it is 0.3186 * sqrt(2) * sigma.
            noise_pa: quartile_of_differences(&p_pa) / 0.4506,
            t_s,
            p_pa,
        }
    }

    pub(super) fn highest_pa(&self) -> f64 {
        self.highest_pa
    }

    pub(super) fn usual_step_s(&self) -> f64 {
        self.usual_step_s
    }

    fn between(&self, from_s: f64, to_s: f64) -> std::ops::Range<usize> {
        let lo = self.t_s.partition_point(|t| *t < from_s);
        let hi = self.t_s.partition_point(|t| *t <= to_s);
        lo..hi.max(lo)
    }

    pub(super) fn median_between(&self, from_s: f64, to_s: f64) -> Option<f64> {
        median(&self.p_pa[self.between(from_s, to_s)])
    }

    /// Whether two levels differ by more than noise and ripple of a quiet line.
    pub(super) fn is_step(&self, from_pa: f64, to_pa: f64) -> bool {
        (from_pa - to_pa).abs() > self.least_step_pa(from_pa)
    }

    fn least_step_pa(&self, level_pa: f64) -> f64 {
        (LEAST_STEP_RATIO * level_pa.abs()).max(5.0 * self.noise_pa)
    }

    /// Time of the largest fall within a stretch, where it is a step at all.
    pub(super) fn sharpest_fall(&self, from_s: f64, to_s: f64) -> Option<f64> {
        self.sharpest_step(from_s, to_s, -1.0)
    }

    /// Time of the largest rise within a stretch, where it is a step at all.
    pub(super) fn sharpest_rise(&self, from_s: f64, to_s: f64) -> Option<f64> {
        self.sharpest_step(from_s, to_s, 1.0)
    }

    fn sharpest_step(&self, from_s: f64, to_s: f64, sign: f64) -> Option<f64> {
        let mut best: Option<(f64, f64)> = None;
        let (mut left, mut right) = (
            SlidingMedian::new(&self.p_pa),
            SlidingMedian::new(&self.p_pa),
        );
        let stretch = self.between(from_s, to_s);
        let mut before = self.between(from_s - STEP_WINDOW_S, from_s).start;
        let mut after = stretch.start;
        for i in stretch {
            let at_s = self.t_s[i];
            while self.t_s[before] < at_s - STEP_WINDOW_S {
                before += 1;
            }
            while self
                .t_s
                .get(after)
                .is_some_and(|t| *t <= at_s + STEP_WINDOW_S)
            {
                after += 1;
            }
            // An idle logger samples slowly: at least the one sample before counts.
            let before = before.min(i.saturating_sub(1))..i;
            let after = i..after;
            let (Some(a), Some(b)) = (left.median_of(before), right.median_of(after)) else {
                continue;
            };
            let step = sign * (b - a);
            if step > self.least_step_pa(a) && best.is_none_or(|(s, _)| step > s) {
                let previous_s = self.t_s[i.saturating_sub(1)];
                best = Some((step, 0.5 * (previous_s.max(at_s - STEP_WINDOW_S) + at_s)));
            }
        }
        best.map(|(_, at_s)| at_s)
    }

    /// Dips from a quiet level that come back to it within `longest_s`: begin and end of each.
    pub(super) fn dips(&self, longest_s: f64) -> Vec<(f64, f64)> {
        let mut dips = Vec::new();
        let n = self.t_s.len();
        let mut i = 1;
        while i < n {
            if !self.may_dip(i) {
                i += 1;
                continue;
            }
            let Some(quiet_pa) = self.quiet_level_before(i) else {
                i += 1;
                continue;
            };
            let depth_pa = self.dip_depth_pa(quiet_pa);
            if quiet_pa < 0.1 * self.highest_pa || self.p_pa[i] > quiet_pa - depth_pa {
                i += 1;
                continue;
            }
            let end = (i..n)
                .take_while(|j| self.t_s[*j] - self.t_s[i] <= longest_s)
                .find(|j| self.is_back(*j, quiet_pa - 0.4 * depth_pa));
            if let Some(j) = end {
                dips.push((self.t_s[i], self.t_s[j]));
                i = j + 1;
            } else {
                // No way back: a burst or a relief. Go on behind it.
                i = self
                    .t_s
                    .partition_point(|t| *t < self.t_s[i] + longest_s)
                    .max(i + 1);
            }
        }
        dips
    }

    /// How far below a quiet level a dip begins.
    fn dip_depth_pa(&self, quiet_pa: f64) -> f64 {
        (0.02 * quiet_pa).max(6.0 * self.noise_pa)
    }

    /// How far a quiet stretch may stray from its level.
    fn quiet_spread_pa(&self, level_pa: f64) -> f64 {
        (0.005 * level_pa.abs()).max(5.0 * self.noise_pa)
    }

    /// False where sample `i` cannot begin a dip whatever the level before it: told of nearly every sample by one
    /// or two before. What is quiet lies within its spread of the level, and a dip begins deeper than that by
    /// the noise or more; the level lies between the extremes of the stretch, and depth and spread grow with it.
    fn may_dip(&self, i: usize) -> bool {
        let from_s = self.t_s[i] - QUIET_S;
        let here_pa = self.p_pa[i] + 0.99 * self.noise_pa;
        let (mut least_pa, mut greatest_pa) = (f64::INFINITY, f64::NEG_INFINITY);
        for before in (0..i).rev().take_while(|k| self.t_s[*k] >= from_s) {
            let before_pa = self.p_pa[before];
            least_pa = least_pa.min(before_pa);
            greatest_pa = greatest_pa.max(before_pa);
            let most_level_pa = greatest_pa.abs().max(least_pa.abs());
            if here_pa > before_pa
                || greatest_pa - least_pa >= 2.0 * self.quiet_spread_pa(most_level_pa)
            {
                return false;
            }
        }
        self.p_pa[i] <= greatest_pa - self.dip_depth_pa(least_pa)
    }

    /// True when sample `j` and the next 0.15 s stand at or above a level.
    fn is_back(&self, j: usize, level_pa: f64) -> bool {
        let next = self.between(self.t_s[j], self.t_s[j] + 0.15);
        next.len() >= 2 && self.p_pa[next].iter().all(|p| *p >= level_pa)
    }

    /// Median of the [`QUIET_S`] before a sample when they are quiet (no ripple).
    fn quiet_level_before(&self, i: usize) -> Option<f64> {
        let before = self.between(self.t_s[i] - QUIET_S, self.t_s[i] - 1e-9);
        if before.len() < 3 {
            return None;
        }
        let values = &self.p_pa[before];
        let level = median(values)?;
        let spread = values.iter().map(|p| (p - level).abs()).fold(0.0, f64::max);
        (spread < self.quiet_spread_pa(level)).then_some(level)
    }

    /// Pauses inside a stretch where pressure stood back near the level around it.
    pub(super) fn recoveries(&self, start_s: f64, end_s: f64) -> Vec<(f64, f64)> {
        let inside = self.between(start_s + 0.15, end_s - 0.15);
        let (Some(crest), Some(before), Some(after)) = (
            quantile(&mut self.p_pa[inside.clone()].to_vec(), 0.9),
            self.median_between(start_s - 0.4, start_s - 0.02),
            self.median_between(end_s + 0.05, end_s + 0.4),
        ) else {
            return Vec::new();
        };
        let top = before.min(after);
        // Where the crests of the ripple reach the stalled level, a crest cannot be told from a pause.
        if top - crest < self.least_step_pa(top) {
            return Vec::new();
        }
        let level = crest + 0.5 * (top - crest);
        let mut pauses: Vec<(f64, f64)> = Vec::new();
        let mut since: Option<f64> = None;
        for i in inside {
            if self.p_pa[i] > level {
                since.get_or_insert(self.t_s[i]);
            } else if let Some(from_s) = since.take()
                && self.t_s[i] - from_s > 0.25
            {
                pauses.push((from_s, self.t_s[i]));
            }
        }
        pauses
    }
}

fn median(values: &[f64]) -> Option<f64> {
    quantile(&mut values.to_vec(), 0.5)
}
