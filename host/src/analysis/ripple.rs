//! Ripple frequency, and means of dependent samples. No bursts.
//!
//! A piston pump's strokes make neighbouring samples dependent, so `s / sqrt(N)` of raw samples is
//! far too small. The mean here is taken over whole ripple periods and its standard uncertainty from
//! batch means of whole periods (Law, Simulation Modeling and Analysis, section 9.5; the batch
//! length follows the ripple instead of a rule of thumb). Checked by coverage under `tests/` and
//! against a reference periodogram.

use std::cell::RefCell;

use realfft::RealFftPlanner;

use super::sliding::quantile;

use crate::estimate::Estimate;

/// What is known of a ripple.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ripple {
    /// Frequency: the pump's stroke rate, Hz.
    pub frequency_hz: f64,
    /// Share of the signal's variance in the peak and its first two harmonics, 0 to 1.
    pub variance_share: f64,
}

/// A mean with its uncertainty and what was seen on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RippleMean {
    /// Mean with the standard uncertainty of batch means; unit of the values.
    pub mean: Estimate,
    /// The ripple, where one was found.
    pub ripple: Option<Ripple>,
    /// Peak-to-peak ripple (5th to 95th percentile of the values about their trend).
    pub peak_to_peak: f64,
    /// Relative change over the stretch by a straight line, and its standard uncertainty.
    pub drift_ratio: f64,
    /// Standard uncertainty of that change.
    pub u_drift_ratio: f64,
}

/// Values at even spacing by linear interpolation; `NaN`s are left out first.
///
/// *Shape*: `t_s` strictly increasing, as long as `values`. Comes back with the step.
fn resample(t_s: &[f64], values: &[f64]) -> Option<(Vec<f64>, f64)> {
    let (t, v): (Vec<f64>, Vec<f64>) = t_s
        .iter()
        .zip(values)
        .filter(|(_, v)| v.is_finite())
        .map(|(t, v)| (*t, *v))
        .unzip();
    let n = t.len();
    let span_s = t.last()? - t.first()?;
    if n < 8 || span_s <= 0.0 {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let step_s = span_s / (n - 1) as f64;
    let mut even = Vec::with_capacity(n);
    let mut j = 0;
    for i in 0..n {
        #[allow(clippy::cast_precision_loss)]
        let at = t[0] + step_s * i as f64;
        while j + 2 < n && t[j + 1] < at {
            j += 1;
        }
        let share = ((at - t[j]) / (t[j + 1] - t[j])).clamp(0.0, 1.0);
        even.push(v[j] + share * (v[j + 1] - v[j]));
    }
    Some((even, step_s))
}

/// The strongest ripple of a stretch, or `None` when nothing stands out of the noise.
///
/// Periodogram of the detrended values with a Hann window, zero-padded fourfold, peak refined by a
/// parabola through its logarithm. A peak counts when it holds at least eight times the mean power
/// of the band and lies at two whole periods or more within the stretch.
///
/// *Shape*: `t_s` strictly increasing, as long as `values`; `NaN` values are skipped.
/// *Cost*: n log n.
#[must_use]
pub fn find_ripple(t_s: &[f64], values: &[f64]) -> Option<Ripple> {
    let (even, step_s) = resample(t_s, values)?;
    ripple_of(even, step_s)
}

thread_local! {
    /// To plan a transform takes longer than to do it, and bursts have few lengths.
    static PLANNER: RefCell<RealFftPlanner<f64>> = RefCell::new(RealFftPlanner::new());
}

/// As [`find_ripple`], of evenly spaced values.
fn ripple_of(mut even: Vec<f64>, step_s: f64) -> Option<Ripple> {
    let n = even.len();
    remove_line(&mut even);
    let variance = even.iter().map(|v| v * v).sum::<f64>();
    if variance <= 0.0 {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    for (i, v) in even.iter_mut().enumerate() {
        let phase = 2.0 * std::f64::consts::PI * i as f64 / (n - 1) as f64;
        *v *= 0.5 - 0.5 * phase.cos();
    }
    let padded = (4 * n).next_power_of_two();
    even.resize(padded, 0.0);
    let fft = PLANNER.with_borrow_mut(|planner| planner.plan_fft_forward(padded));
    let mut spectrum = fft.make_output_vec();
    fft.process(&mut even, &mut spectrum).ok()?;
    let power: Vec<f64> = spectrum.iter().map(|c| c.norm_sqr()).collect();
    #[allow(clippy::cast_precision_loss)]
    let bin_hz = 1.0 / (padded as f64 * step_s);
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )]
    let first = (2.0 / (n as f64 * step_s) / bin_hz).ceil() as usize;
    let last = power.len().saturating_sub(2);
    if first + 2 >= last {
        return None;
    }
    let band = &power[first..last];
    #[allow(clippy::cast_precision_loss)]
    let mean_power = band.iter().sum::<f64>() / band.len() as f64;
    let peak = (first..last).max_by(|a, b| power[*a].total_cmp(&power[*b]))?;
    if power[peak] < 8.0 * mean_power {
        return None;
    }
    let centre = refine_peak(&power, peak);
    let total: f64 = power.iter().sum();
    let share = (1..=3)
        .map(|h| peak_power(&power, peak * h, padded / n + 1))
        .sum::<f64>()
        / total;
    Some(Ripple {
        frequency_hz: centre * bin_hz,
        variance_share: share.min(1.0),
    })
}

/// Power within `half_width` bins of a bin.
fn peak_power(power: &[f64], bin: usize, half_width: usize) -> f64 {
    let lo = bin.saturating_sub(half_width).min(power.len());
    let hi = (bin + half_width + 1).min(power.len());
    power[lo..hi].iter().sum()
}

/// Peak position by a parabola through the logarithms of three bins.
fn refine_peak(power: &[f64], peak: usize) -> f64 {
    let (a, b, c) = (
        power[peak - 1].max(1e-300).ln(),
        power[peak].max(1e-300).ln(),
        power[peak + 1].max(1e-300).ln(),
    );
    let curvature = a - 2.0 * b + c;
    #[allow(clippy::cast_precision_loss)]
    let at = peak as f64;
    if curvature < 0.0 {
        at + (0.5 * (a - c) / curvature).clamp(-0.5, 0.5)
    } else {
        at
    }
}

/// Takes the least-squares line off evenly spaced values; gives its change over the whole stretch.
fn remove_line(values: &mut [f64]) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let centre = (n - 1.0) / 2.0;
    let (mut sxy, mut sxx) = (0.0, 0.0);
    for (i, v) in values.iter().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let x = i as f64 - centre;
        sxy += x * (v - mean);
        sxx += x * x;
    }
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    for (i, v) in values.iter_mut().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let x = i as f64 - centre;
        *v -= mean + slope * x;
    }
    slope * (n - 1.0)
}

/// Mean of dependent samples over whole ripple periods, or `None` below eight finite samples.
///
/// *Shape*: `t_s` strictly increasing, as long as `values`; `NaN` values are skipped.
/// *Kind of uncertainty*: standard, independent, by batch means; `dof` is batches minus one.
#[must_use]
pub fn mean_over_ripple(t_s: &[f64], values: &[f64]) -> Option<RippleMean> {
    let (even, step_s) = resample(t_s, values)?;
    let ripple = ripple_of(even.clone(), step_s);
    #[allow(clippy::cast_precision_loss)]
    let span_s = step_s * even.len() as f64;
    let period_s = ripple.map(|r| 1.0 / r.frequency_hz);
    let used = whole_periods(even.len(), step_s, span_s, period_s);
    let stretch = &even[even.len() - used..];
    let mut residual = stretch.to_vec();
    let change = remove_line(&mut residual);
    #[allow(clippy::cast_precision_loss)]
    let mean = stretch.iter().sum::<f64>() / used as f64;
    let (u_mean, dof, u_change) = batch_uncertainty(&residual, step_s, period_s);
    let crest = quantile(&mut residual, 0.95)?;
    let peak_to_peak = crest - quantile(&mut residual, 0.05)?;
    let scale = if mean == 0.0 { 1.0 } else { mean.abs() };
    Some(RippleMean {
        mean: Estimate::new(mean, u_mean, 0.0).with_dof(dof),
        ripple,
        peak_to_peak,
        drift_ratio: change / scale,
        u_drift_ratio: u_change / scale,
    })
}

/// Number of samples that hold the most whole periods.
fn whole_periods(n: usize, step_s: f64, span_s: f64, period_s: Option<f64>) -> usize {
    let Some(period_s) = period_s else { return n };
    let periods = (span_s / period_s).floor();
    if periods < 1.0 {
        return n;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let used = (periods * period_s / step_s).round() as usize;
    used.clamp(8.min(n), n)
}

/// Standard uncertainty of the mean from batch means of whole periods, its degrees of freedom, and
/// the standard uncertainty of the linear change over the stretch.
fn batch_uncertainty(residual: &[f64], step_s: f64, period_s: Option<f64>) -> (f64, f64, f64) {
    /// Between six and twenty batches: fewer make the factor of Student's t explode, more
    /// make batches so short that neighbours depend on each other.
    const MOST_BATCHES: usize = 20;
    const LEAST_BATCHES: usize = 6;
    let n = residual.len();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let period = period_s.map_or(1, |p| ((p / step_s).round() as usize).max(1));
    let mut size = (n / MOST_BATCHES).max(1).div_ceil(period) * period;
    if n / size < LEAST_BATCHES {
        size = (n / LEAST_BATCHES).max(1);
    }
    let means: Vec<f64> = residual
        .chunks_exact(size)
        .map(|batch| {
            #[allow(clippy::cast_precision_loss)]
            let m = batch.iter().sum::<f64>() / batch.len() as f64;
            m
        })
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let b = means.len() as f64;
    if b < 2.0 {
        return (f64::INFINITY, 1.0, f64::INFINITY);
    }
    let grand = means.iter().sum::<f64>() / b;
    // One degree of freedom went into the mean, one into the line that was taken off.
    let dof = (b - 2.0).max(1.0);
    let s = (means.iter().map(|m| (m - grand).powi(2)).sum::<f64>() / dof).sqrt();
    let u_mean = s / b.sqrt();
    (u_mean, dof, u_mean * 12f64.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    fn wave(f_hz: f64, rate_hz: f64, span_s: f64, noise: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let n = (0..)
            .take_while(|i| f64::from(*i) < span_s * rate_hz)
            .count();
        let phase: f64 = rng.random_range(0.0..std::f64::consts::TAU);
        let t: Vec<f64> = (0..n).map(|i| i as f64 / rate_hz).collect();
        let v = t
            .iter()
            .map(|t| {
                let jitter: f64 = rng.random_range(-1.0..1.0);
                100.0
                    + 5.0 * (std::f64::consts::TAU * f_hz * t + phase).sin().abs()
                    + noise * jitter
            })
            .collect();
        (t, v)
    }

    #[test]
    fn a_rectified_stroke_ripple_is_found_at_its_own_frequency() {
        // |sin| repeats at twice the frequency of its sine.
        let (t, v) = wave(1.7, 100.0, 6.0, 0.5, 1);
        let ripple = find_ripple(&t, &v).unwrap();
        assert!((ripple.frequency_hz - 3.4).abs() < 0.05, "{ripple:?}");
        assert!(ripple.variance_share > 0.5);
    }

    #[test]
    fn white_noise_has_no_ripple() {
        let (t, mut v) = wave(1.7, 100.0, 6.0, 1.0, 2);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        for v in &mut v {
            *v = rng.random_range(-1.0..1.0);
        }
        assert_eq!(find_ripple(&t, &v), None);
    }

    #[test]
    fn the_interval_covers_the_mean_of_a_strong_ripple() {
        let truth = 100.0 + 5.0 * 2.0 / std::f64::consts::PI;
        let covered = (0u32..400)
            .filter(|seed| {
                let span_s = 3.0 + f64::from(*seed % 40) * 0.1;
                let (t, v) = wave(1.3, 100.0, span_s, 2.0, u64::from(*seed));
                mean_over_ripple(&t, &v)
                    .unwrap()
                    .mean
                    .interval_95()
                    .contains(truth)
            })
            .count();
        // 95 % of 400 is 380; the binomial range of 99.9 % is 364 to 393, and more than that
        // would only mean intervals a little wide.
        assert!(covered >= 364, "covered {covered} of 400");
    }

    #[test]
    fn too_little_gives_nothing() {
        assert!(mean_over_ripple(&[0.0, 0.1], &[1.0, 2.0]).is_none());
        assert!(mean_over_ripple(&[], &[]).is_none());
        assert!(find_ripple(&[0.0; 20], &[f64::NAN; 20]).is_none());
    }
}
