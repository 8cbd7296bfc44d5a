//! Where one clock was set against the other: a shift of the lower envelope that lasts.
//!
//! Delays hide a shift in any single arrival, but not in the least one of a window. At each arrival
//! the least shift of the window after it is compared with that of the window before; a difference
//! beyond both the reported least size and the noise of such minima is a jump. A stall of the host
//! ends within the window and leaves the minima where they were.

use super::{JUMP_WINDOW_S, LEAST_JUMP_S};

/// A jump must exceed this many times the typical difference of neighbouring minima.
const NOISE_FACTOR: f64 = 8.0;
/// Blocks for the robust drift.
const BLOCKS_MAX: usize = 60;
/// Fewest arrivals on either side of a jump; with fewer a single delay would look like one.
const SIDE_MIN: usize = 4;

/// Positions at which a new stretch begins, ascending; empty when no clock jumped.
///
/// *Shape*: logger times, not decreasing, and host minus logger time at each.
pub(super) fn find_jumps(t: &[f64], shift: &[f64]) -> Vec<usize> {
    let (drift, noise) = robust_drift(t, shift);
    let level: Vec<f64> = t.iter().zip(shift).map(|(t, y)| y - drift * t).collect();
    let threshold = LEAST_JUMP_S.max(NOISE_FACTOR * noise);
    let before = least_before(t, &level);
    let after = least_after(t, &level);
    let n = t.len();
    let mut cuts = Vec::new();
    let mut i = SIDE_MIN;
    while i + SIDE_MIN <= n {
        // A cut at i: the new stretch begins with arrival i.
        let step = after[i] - before[i - 1];
        if step.abs() > threshold {
            // Neighbouring cuts see the same jump. A jump up is exact at the first of them, a jump
            // down at the last.
            let run_end = (i..=n - SIDE_MIN)
                .take_while(|k| (after[*k] - before[k - 1]) * step.signum() > threshold)
                .last()
                .unwrap_or(i);
            cuts.push(if step > 0.0 { i } else { run_end });
            i = run_end + 1;
        }
        i += 1;
    }
    cuts
}

/// Drift and noise from block minima: the median slope of neighbouring minima is not moved by a
/// few jumps, and the median deviation from it is their noise.
fn robust_drift(t: &[f64], shift: &[f64]) -> (f64, f64) {
    let n_blocks = BLOCKS_MAX.min(t.len() / SIDE_MIN).max(1);
    let mut lows: Vec<(f64, f64)> = Vec::with_capacity(n_blocks);
    for block in 0..n_blocks {
        let (from, to) = (block * t.len() / n_blocks, (block + 1) * t.len() / n_blocks);
        let lowest = (from..to).min_by(|a, b| shift[*a].total_cmp(&shift[*b]));
        lows.extend(lowest.map(|i| (t[i], shift[i])));
    }
    let slopes = lows
        .windows(2)
        .filter(|w| w[1].0 > w[0].0)
        .map(|w| (w[1].1 - w[0].1) / (w[1].0 - w[0].0));
    let drift = median(slopes.collect());
    let steps = lows
        .windows(2)
        .map(|w| (w[1].1 - w[0].1 - drift * (w[1].0 - w[0].0)).abs());
    (drift, median(steps.collect()))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// At each arrival, the least level of the window that ends there.
fn least_before(t: &[f64], level: &[f64]) -> Vec<f64> {
    let mut queue = std::collections::VecDeque::new();
    let mut least = Vec::with_capacity(t.len());
    for i in 0..t.len() {
        while queue.back().is_some_and(|k: &usize| level[*k] >= level[i]) {
            queue.pop_back();
        }
        queue.push_back(i);
        while queue
            .front()
            .is_some_and(|k| t[i] - t[*k] > JUMP_WINDOW_S && i - k >= SIDE_MIN)
        {
            queue.pop_front();
        }
        least.push(queue.front().map_or(level[i], |k| level[*k]));
    }
    least
}

/// At each arrival, the least level of the window that begins there.
fn least_after(t: &[f64], level: &[f64]) -> Vec<f64> {
    let mirrored_t: Vec<f64> = t.iter().rev().map(|t| -t).collect();
    let mirrored: Vec<f64> = level.iter().rev().copied().collect();
    let mut least = least_before(&mirrored_t, &mirrored);
    least.reverse();
    least
}
