//! Codes, counts and edges to quantities through a calibration. No smoothing.
//!
//! Goes in: raw codes with their declared scale, or counts of pulses per row. Comes out: gauge
//! pressure in pascals and edge times with their standard uncertainty. What cannot be one edge
//! (contact bounce) is taken out here and counted, never silently: see [`reject_bounce`].

use super::signal::Gap;

/// Edge times with their standard uncertainty; both of one length.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EdgeTimes {
    /// Best time of each edge, not decreasing, s.
    pub t_s: Vec<f64>,
    /// Standard uncertainty of each time, s.
    pub u_t_s: Vec<f64>,
}

/// Gauge pressure of raw codes: `zero + per_code * code`, element by element.
#[must_use]
pub fn pressure_from_codes(codes: &[i32], zero_pa: f64, pa_per_code: f64) -> Vec<f64> {
    codes
        .iter()
        .map(|code| zero_pa + pa_per_code * f64::from(*code))
        .collect()
}

/// Edge times from pulses counted per row.
///
/// The edges of a row lie somewhere after the row before: they are put at even spacing, each with
/// the standard uncertainty of a uniform distribution over its share of the row. Where the time of
/// the row's last edge is known, that edge is exact to the resolution of the file.
///
/// *Shape*: `counts` as long as `t_s`; `last_edge_t_s` as long or empty (`NaN` where unknown).
/// A row after a gap in `gaps` may hold the pulses of the gap or only its own, which nobody can
/// tell afterwards: its edges are put at the row's end and carry the whole gap as uncertainty.
#[must_use]
pub fn edges_from_counts(
    t_s: &[f64],
    counts: &[Option<u32>],
    last_edge_t_s: &[f64],
    gaps: &[Gap],
) -> EdgeTimes {
    let mut edges = EdgeTimes::default();
    let mut previous_s = t_s.first().copied().unwrap_or(0.0);
    for (i, (row_s, count)) in t_s.iter().zip(counts).enumerate() {
        let n = count.unwrap_or(0);
        let from_s = if i == 0 { *row_s } else { previous_s };
        if count.is_some() {
            previous_s = *row_s;
        }
        if n == 0 {
            continue;
        }
        let after_gap = gaps
            .iter()
            .any(|g| g.from_s < *row_s && g.to_s >= *row_s && g.from_s >= from_s - 1e-9);
        let last = last_edge_t_s
            .get(i)
            .copied()
            .filter(|t| t.is_finite() && *t > from_s);
        push_row_edges(&mut edges, from_s, *row_s, n, last, after_gap);
    }
    edges
}

fn push_row_edges(
    edges: &mut EdgeTimes,
    from_s: f64,
    row_s: f64,
    n: u32,
    last: Option<f64>,
    after_gap: bool,
) {
    /// Written times carry four decimals: half a step, uniform.
    const FILE_RESOLUTION_U_S: f64 = 1.0e-4 / 3.464;
    let span_s = row_s - from_s;
    for k in 0..n {
        let (t, u) = if after_gap {
            (row_s, span_s / 12f64.sqrt())
        } else if let Some(last_s) = last {
            let before = f64::from(n - 1 - k);
            let step_s = (last_s - from_s) / f64::from(n);
            let u = if before == 0.0 {
                FILE_RESOLUTION_U_S
            } else {
                step_s / 12f64.sqrt()
            };
            (last_s - before * step_s, u)
        } else {
            let step_s = span_s / f64::from(n);
            (
                from_s + (f64::from(k) + 0.5) * step_s,
                step_s / 12f64.sqrt(),
            )
        };
        edges.t_s.push(t);
        edges.u_t_s.push(u);
    }
}

/// What was taken out as contact bounce.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BounceReport {
    /// Edges taken out.
    pub n_rejected: usize,
    /// Time of the first.
    pub first_s: f64,
    /// Time of the last.
    pub last_s: f64,
}

/// Takes out edges that follow another far sooner than their neighbours let the pump make them.
///
/// An edge is bounce when the interval before it is below a quarter of the median interval of
/// the eight edges around it and the interval after it closes the gap again (the two add up to one
/// normal interval within a quarter). Only intervals that are resolved (longer than six standard
/// uncertainties of the times at the local median) are judged.
#[must_use]
pub fn reject_bounce(edges: &EdgeTimes) -> (EdgeTimes, BounceReport) {
    const NEIGHBOURS: usize = 4;
    let n = edges.t_s.len();
    let mut report = BounceReport::default();
    if n < 2 * NEIGHBOURS {
        return (edges.clone(), report);
    }
    let intervals: Vec<f64> = edges.t_s.windows(2).map(|w| w[1] - w[0]).collect();
    let mut kept = EdgeTimes::default();
    let mut scratch = Vec::with_capacity(2 * NEIGHBOURS);
    for i in 0..n {
        let is_bounce = i > 0 && {
            let lo = (i - 1).saturating_sub(NEIGHBOURS);
            let hi = (i - 1 + NEIGHBOURS).min(intervals.len());
            scratch.clear();
            scratch.extend_from_slice(&intervals[lo..hi]);
            scratch.sort_by(f64::total_cmp);
            let median = scratch[scratch.len() / 2];
            let before = intervals[i - 1];
            let after = intervals.get(i).copied().unwrap_or(median);
            let resolved = median > 6.0 * edges.u_t_s[i].max(edges.u_t_s[i - 1]);
            resolved && before < 0.25 * median && (before + after - median).abs() < 0.25 * median
        };
        if is_bounce {
            if report.n_rejected == 0 {
                report.first_s = edges.t_s[i];
            }
            report.n_rejected += 1;
            report.last_s = edges.t_s[i];
        } else {
            kept.t_s.push(edges.t_s[i]);
            kept.u_t_s.push(edges.u_t_s[i]);
        }
    }
    (kept, report)
}

/// Stretches in which rows are missing: steps of time beyond `factor` times the slower of the two
/// usual steps around them, and beyond `least_s`.
///
/// Loggers may fall back to a slower rate while nothing is sprayed, so a step is held against the
/// steps before *and* after it. *Shape*: `t_s` strictly increasing.
#[must_use]
pub fn find_gaps(t_s: &[f64], factor: f64, least_s: f64) -> Vec<Gap> {
    const AROUND: usize = 8;
    let steps: Vec<f64> = t_s.windows(2).map(|w| w[1] - w[0]).collect();
    let mut gaps = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        if *step < least_s {
            continue;
        }
        let before = largest(&steps[i.saturating_sub(AROUND)..i]);
        let after = largest(&steps[(i + 1).min(steps.len())..(i + 1 + AROUND).min(steps.len())]);
        if *step > factor * before.max(after) {
            gaps.push(Gap {
                from_s: t_s[i],
                to_s: t_s[i + 1],
            });
        }
    }
    gaps
}

fn largest(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_become_pascals_by_the_declared_scale() {
        assert_eq!(
            pressure_from_codes(&[0, 10, -2], 5.0, 2.0),
            vec![5.0, 25.0, 1.0]
        );
    }

    #[test]
    fn edges_of_a_row_spread_over_it_and_carry_its_width() {
        let e = edges_from_counts(&[0.0, 0.1, 0.2], &[Some(0), Some(2), Some(1)], &[], &[]);
        assert_eq!(e.t_s.len(), 3);
        assert!((e.t_s[0] - 0.025).abs() < 1e-12 && (e.t_s[2] - 0.15).abs() < 1e-12);
        assert!((e.u_t_s[2] - 0.1 / 12f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_known_last_edge_is_exact() {
        let e = edges_from_counts(&[0.0, 0.1], &[Some(0), Some(1)], &[f64::NAN, 0.0421], &[]);
        assert_eq!(e.t_s, vec![0.0421]);
        assert!(e.u_t_s[0] < 1e-4);
    }

    #[test]
    fn empty_cells_widen_the_row_that_follows() {
        let e = edges_from_counts(&[0.0, 0.1, 0.2], &[Some(0), None, Some(1)], &[], &[]);
        assert!((e.t_s[0] - 0.1).abs() < 1e-12, "{:?}", e.t_s);
    }

    #[test]
    fn bounce_is_taken_out_and_counted_and_a_stop_is_not_bounce() {
        let mut t: Vec<f64> = (0..20).map(|i| f64::from(i) * 0.1).collect();
        t.push(0.504); // bounce right behind the edge at 0.5
        t.extend((0..20).map(|i| 5.0 + f64::from(i) * 0.1)); // a second burst after a pause
        t.sort_by(f64::total_cmp);
        let edges = EdgeTimes {
            u_t_s: vec![1e-6; t.len()],
            t_s: t,
        };
        let (kept, report) = reject_bounce(&edges);
        assert_eq!(report.n_rejected, 1);
        assert_eq!(kept.t_s.len(), 40);
    }

    #[test]
    fn a_slower_idle_rate_is_no_gap_but_lost_rows_are() {
        let mut t: Vec<f64> = (0..50).map(|i| f64::from(i) * 0.1).collect(); // idle, 10 Hz
        t.extend((1..400).map(|i| 4.9 + f64::from(i) * 0.005)); // spraying, 200 Hz
        assert!(find_gaps(&t, 3.0, 0.05).is_empty());
        t.retain(|t| !(*t > 5.5 && *t < 5.9));
        let gaps = find_gaps(&t, 3.0, 0.05);
        assert_eq!(gaps.len(), 1);
        assert!((gaps[0].from_s - 5.5).abs() < 0.006);
    }
}
