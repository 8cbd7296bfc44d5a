//! Falls, rises, dips and recoveries of pressure.

/// Half-width of the two stretches that a step is the difference of, s.
const STEP_WINDOW_S: f64 = 0.12;
/// A step is one when it exceeds this share of the pressure and five times the noise.
const LEAST_STEP_RATIO: f64 = 0.008;

/// The finite pressure samples of a signal with what is known of their noise.
pub(super) struct PressureTrace {
    t_s: Vec<f64>,
    p_pa: Vec<f64>,
    noise_pa: f64,
    highest_pa: f64,
    usual_step_s: f64,
}

impl PressureTrace {
    pub(super) fn new(t_s: &[f64], pressure_pa: &[f64]) -> Self {
        let (t_s, p_pa): (Vec<f64>, Vec<f64>) = t_s
            .iter()
            .zip(pressure_pa)
            .filter(|(_, p)| p.is_finite())
            .map(|(t, p)| (*t, *p))
            .unzip();
        let mut steps: Vec<f64> = p_pa.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
        let mut gaps: Vec<f64> = t_s.windows(2).map(|w| w[1] - w[0]).collect();
        steps.sort_by(f64::total_cmp);
        gaps.sort_by(f64::total_cmp);
        // The lower quartile of |step| belongs to the quiet stretches even where spraying fills most
        // of the recording: for normal noise it is 0.3186 * sqrt(2) * sigma.
        let noise_pa = steps.get(steps.len() / 4).map_or(0.0, |s| s / 0.4506);
        Self {
            highest_pa: p_pa.iter().copied().fold(0.0, f64::max),
            usual_step_s: gaps.get(gaps.len() / 4).copied().unwrap_or(0.0),
            t_s,
            p_pa,
            noise_pa,
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
        for i in self.between(from_s, to_s) {
            let at_s = self.t_s[i];
            // An idle logger samples slowly: at least the one sample before counts.
            let before = self.between(at_s - STEP_WINDOW_S, at_s - 1e-9);
            let before = before.start.min(i.saturating_sub(1))..i;
            let after = self.between(at_s, at_s + STEP_WINDOW_S);
            let (Some(a), Some(b)) = (median(&self.p_pa[before]), median(&self.p_pa[after])) else {
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
            let Some(quiet_pa) = self.quiet_level_before(i) else {
                i += 1;
                continue;
            };
            let depth_pa = (0.02 * quiet_pa).max(6.0 * self.noise_pa);
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

    /// True when sample `j` and the next 0.15 s stand at or above a level.
    fn is_back(&self, j: usize, level_pa: f64) -> bool {
        let next = self.between(self.t_s[j], self.t_s[j] + 0.15);
        next.len() >= 2 && self.p_pa[next].iter().all(|p| *p >= level_pa)
    }

    /// Median of the 0.3 s before a sample when they are quiet (no ripple).
    fn quiet_level_before(&self, i: usize) -> Option<f64> {
        let before = self.between(self.t_s[i] - 0.3, self.t_s[i] - 1e-9);
        if before.len() < 3 {
            return None;
        }
        let values = &self.p_pa[before];
        let level = median(values)?;
        let spread = values.iter().map(|p| (p - level).abs()).fold(0.0, f64::max);
        (spread < (0.005 * level.abs()).max(5.0 * self.noise_pa)).then_some(level)
    }

    /// Pauses inside a stretch where pressure stood back near the level around it.
    pub(super) fn recoveries(&self, start_s: f64, end_s: f64) -> Vec<(f64, f64)> {
        let inside = self.between(start_s + 0.15, end_s - 0.15);
        let (Some(crest), Some(before), Some(after)) = (
            quantile(&self.p_pa[inside.clone()], 0.9),
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
    quantile(values, 0.5)
}

/// Asked for at every sample of a recording: the values are parted, not sorted.
fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut parted = values.to_vec();
    let last = parted.len().checked_sub(1)?;
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )]
    let at = ((parted.len() as f64) * share) as usize;
    let (_, value, _) = parted.select_nth_unstable_by(at.min(last), f64::total_cmp);
    Some(*value)
}
