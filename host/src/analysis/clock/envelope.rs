//! The line under all arrivals, and how well it is known. No jumps here, no words of the trade.
//!
//! The line under all points that is nearest to them on average touches the lower convex hull
//! along the edge that spans the mean abscissa. Its uncertainty: thin the points to block minima, so that
//! dependent delays do not count twice; take their excess over the true line as exponential with
//! unknown mean. With flat priors on height and slope and `1 / mean` on the mean the posterior is
//! (derived here)
//!
//! ```text
//! p(a, b) ~ (y_mean - a)^-M         for every line (a, b) under all points, M blocks,
//! p(b)    ~ g(b)^-(M-1),            g(b) = y_mean - h(b), h(b) the highest line of slope b,
//! y_mean - a given b                Pareto: mean g (M-1)/(M-2), variance g^2 (M-1)/((M-2)^2 (M-3))
//! ```
//!
//! `h` is piecewise linear between the slopes of the hull's edges, so moments and quantiles are
//! integrals over a few smooth pieces. Height and slope are stated as the middle of the interval that
//! holds 95 % of the posterior, 2.5 % left out on either side, and their uncertainty as its half-width
//! over [`FACTOR_95`]. For these priors such an interval covers as often as it says, because height,
//! slope and mean only shift, tilt and scale the data. Blocks inside a stall of the host are left out: their excess is beyond
//! [`STALL_FACTOR`] times the median. Where delays rarely come near the least one (no density at zero), the
//! envelope lies later than this says; that shift is part of the link's least delay.

use super::ARRIVALS_MIN;

/// Blocks that the points are thinned to.
const BLOCKS_MAX: usize = 60;
/// Blocks whose excess is above this many medians are stalls: of exponential excesses fewer than one
/// in a thousand lie there.
const STALL_FACTOR: f64 = 10.0;
/// Intervals a piece of the posterior of the slope (trapezium rule).
const STEPS: usize = 160;
/// Student's t for 95 % with the 16 degrees of freedom that the module above states: the reader's
/// interval is then the posterior's.
const FACTOR_95: f64 = 2.119_905_299_221_011;
/// Where the tails of the posterior are cut: this weight relative to its peak.
const TAIL: f64 = 1e-12;

/// A line under points: `y = offset + drift * (t - mid)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Under {
    pub(super) mid_s: f64,
    pub(super) offset_s: f64,
    pub(super) drift: f64,
    pub(super) u_offset_s: f64,
    pub(super) u_drift: f64,
    pub(super) covariance_s: f64,
    /// Abscissas of the two points that the line of least gap touches.
    pub(super) touches_s: (f64, f64),
}

/// The line under all points with its uncertainty; `None` with fewer than [`ARRIVALS_MIN`] points
/// or with all at one abscissa.
pub(super) fn fit_under(t: &[f64], y: &[f64]) -> Option<Under> {
    if t.len() < ARRIVALS_MIN {
        return None;
    }
    let first_guess = lowest_tangent(t, y)?;
    let (t, y) = without_stalls(block_minima(t, y, first_guess), first_guess);
    let n = t.len() as f64;
    let mid = t.iter().sum::<f64>() / n;
    let centred: Vec<f64> = t.iter().map(|t| t - mid).collect();
    let y_mean = y.iter().sum::<f64>() / n;
    let hull = lower_hull(&centred, &y);
    if hull.len() < 2 {
        return None;
    }
    let posterior = Posterior { hull, y_mean, n };
    Some(posterior.moments(mid))
}

/// Slope of the line under all points at their mean abscissa.
fn lowest_tangent(t: &[f64], y: &[f64]) -> Option<f64> {
    let hull = lower_hull(t, y);
    let mean = t.iter().sum::<f64>() / t.len() as f64;
    let edge = hull.windows(2).find(|e| e[1].0 >= mean)?;
    Some((edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0))
}

/// Lower convex hull of points sorted by abscissa (Andrew's monotone chain).
fn lower_hull(t: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    let mut hull: Vec<(f64, f64)> = Vec::new();
    for point in t.iter().copied().zip(y.iter().copied()) {
        if let Some(last) = hull.last().copied()
            && last.0 == point.0
        {
            if point.1 >= last.1 {
                continue;
            }
            hull.pop();
        }
        while let [.., a, b] = hull[..] {
            let turn = (b.0 - a.0) * (point.1 - a.1) - (b.1 - a.1) * (point.0 - a.0);
            if turn > 0.0 {
                break;
            }
            hull.pop();
        }
        hull.push(point);
    }
    hull
}

/// The lowest point, above a line of the given slope, of each of up to [`BLOCKS_MAX`] blocks.
fn block_minima(t: &[f64], y: &[f64], slope: f64) -> (Vec<f64>, Vec<f64>) {
    let n_blocks = BLOCKS_MAX.min(t.len());
    let mut lows = (Vec::with_capacity(n_blocks), Vec::with_capacity(n_blocks));
    for block in 0..n_blocks {
        let (from, to) = (block * t.len() / n_blocks, (block + 1) * t.len() / n_blocks);
        let height = |i: usize| y[i] - slope * t[i];
        if let Some(lowest) = (from..to).min_by(|a, b| height(*a).total_cmp(&height(*b))) {
            lows.0.push(t[lowest]);
            lows.1.push(y[lowest]);
        }
    }
    lows
}

/// The blocks without those that a stall covers whole; at least [`ARRIVALS_MIN`] stay.
fn without_stalls((t, y): (Vec<f64>, Vec<f64>), slope: f64) -> (Vec<f64>, Vec<f64>) {
    let height: Vec<f64> = t.iter().zip(&y).map(|(t, y)| y - slope * t).collect();
    let mut sorted = height.clone();
    sorted.sort_by(f64::total_cmp);
    let least = sorted[0];
    let median = sorted[sorted.len() / 2] - least;
    let limit = (least + STALL_FACTOR * median).max(sorted[sorted.len().min(ARRIVALS_MIN) - 1]);
    let kept = t
        .into_iter()
        .zip(y)
        .zip(height)
        .filter(|(_, h)| *h <= limit);
    kept.map(|(point, _)| point).unzip()
}

struct Posterior {
    /// Hull vertices, abscissa centred on the mean of the points.
    hull: Vec<(f64, f64)>,
    y_mean: f64,
    n: f64,
}

impl Posterior {
    /// Mean ordinate minus the highest line of slope `b` under the hull, at the mean abscissa, with
    /// the hull vertex that the line touches given.
    fn gap(&self, b: f64, vertex: usize) -> f64 {
        let (t, y) = self.hull[vertex];
        self.y_mean - y + b * t
    }

    fn moments(&self, mid: f64) -> Under {
        let edges: Vec<f64> = self
            .hull
            .windows(2)
            .map(|e| (e[1].1 - e[0].1) / (e[1].0 - e[0].0))
            .collect();
        // Best slope: the edge across the mean abscissa, where the gap is least.
        let best = self
            .hull
            .windows(2)
            .position(|e| e[1].0 >= 0.0)
            .unwrap_or(0);
        let (b_best, g_best) = (edges[best], self.gap(edges[best], best));
        let touches_s = (self.hull[best].0 + mid, self.hull[best + 1].0 + mid);
        if g_best <= 0.0 {
            // All points on one line: nothing shows a delay that varies.
            return Under {
                touches_s,
                ..self.exact(mid, b_best, g_best)
            };
        }
        let mut nodes = Vec::new();
        for (vertex, from, to) in self.pieces(&edges, g_best) {
            self.tabulate(vertex, (from, to), (b_best, g_best), &mut nodes);
        }
        let one: f64 = nodes.iter().map(|n| n.weight).sum();
        let mean =
            |f: &dyn Fn(&Node) -> f64| nodes.iter().map(|n| n.weight * f(n)).sum::<f64>() / one;
        let (mean_b, mean_g) = (mean(&|n| n.slope), mean(&|n| n.gap));
        let pareto_mean = (self.n - 1.0) / (self.n - 2.0);
        let pareto_square = (self.n - 1.0) / (self.n - 3.0);
        // a = y_mean - g * Pareto, so its variance and its covariance with b follow.
        let variance_a = pareto_square * mean(&|n| n.gap * n.gap) - (pareto_mean * mean_g).powi(2);
        let variance_b = mean(&|n| n.slope * n.slope) - mean_b * mean_b;
        let covariance = -pareto_mean * (mean(&|n| n.gap * n.slope) - mean_g * mean_b);
        let r = covariance / (variance_a * variance_b).sqrt();
        let (gap_low, gap_high) = self.gap_interval(&nodes, one, g_best);
        let (slope_low, slope_high) = slope_interval(&nodes, one);
        let u_offset_s = 0.5 * (gap_high - gap_low) / FACTOR_95;
        let u_drift = 0.5 * (slope_high - slope_low) / FACTOR_95;
        Under {
            mid_s: mid,
            offset_s: self.y_mean - 0.5 * (gap_low + gap_high),
            drift: b_best + 0.5 * (slope_low + slope_high),
            u_offset_s,
            u_drift,
            covariance_s: if r.is_finite() {
                r * u_offset_s * u_drift
            } else {
                0.0
            },
            touches_s,
        }
    }

    /// The middle 95 % of the posterior of mean ordinate minus height.
    fn gap_interval(&self, nodes: &[Node], one: f64, g_best: f64) -> (f64, f64) {
        let share_below = |z: f64| {
            let below = nodes.iter().filter(|n| n.gap < z);
            below
                .map(|n| n.weight * (1.0 - (n.gap / z).powf(self.n - 1.0)))
                .sum::<f64>()
                / one
        };
        let quantile = |p: f64| {
            let (mut low, mut high) = (g_best, 2.0 * g_best);
            while share_below(high) < p {
                high *= 2.0;
            }
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if share_below(middle) < p {
                    low = middle
                } else {
                    high = middle
                }
            }
            high
        };
        (quantile(0.025), quantile(0.975))
    }

    fn exact(&self, mid: f64, drift: f64, gap: f64) -> Under {
        Under {
            mid_s: mid,
            offset_s: self.y_mean - gap,
            drift,
            u_offset_s: 0.0,
            u_drift: 0.0,
            covariance_s: 0.0,
            touches_s: (mid, mid),
        }
    }

    /// Pieces of the slope axis: the vertex touched, from, to. The outer two end where the posterior
    /// has fallen to [`TAIL`] of its peak.
    fn pieces(&self, edges: &[f64], g_best: f64) -> Vec<(usize, f64, f64)> {
        let g_end = g_best * TAIL.powf(-1.0 / (self.n - 1.0));
        let reach = |vertex: usize, b: f64, sign: f64| {
            let (t, _) = self.hull[vertex];
            let missing = (g_end - self.gap(b, vertex)).max(0.0);
            b + sign * missing / t.abs().max(f64::MIN_POSITIVE)
        };
        let last = self.hull.len() - 1;
        let mut pieces = vec![(0, reach(0, edges[0], -1.0), edges[0])];
        for (i, pair) in edges.windows(2).enumerate() {
            pieces.push((i + 1, pair[0], pair[1]));
        }
        pieces.push((last, edges[last - 1], reach(last, edges[last - 1], 1.0)));
        pieces
    }

    /// Tabulate one piece of the posterior of the slope; slopes relative to the best one.
    fn tabulate(
        &self,
        vertex: usize,
        (from, to): (f64, f64),
        best: (f64, f64),
        nodes: &mut Vec<Node>,
    ) {
        let h = (to - from) / STEPS as f64;
        if !(h.is_finite() && h > 0.0) {
            return;
        }
        for i in 0..=STEPS {
            let b = from + h * i as f64;
            let gap = self.gap(b, vertex);
            let share = if i == 0 || i == STEPS { 0.5 } else { 1.0 };
            nodes.push(Node {
                slope: b - best.0,
                gap,
                weight: share * h * (gap / best.1).powf(-(self.n - 1.0)),
            });
        }
    }
}

/// One slope with its gap and its share of the posterior.
struct Node {
    slope: f64,
    gap: f64,
    weight: f64,
}

/// The middle 95 % of the posterior of the slope; the nodes stand in ascending order of slope.
fn slope_interval(nodes: &[Node], one: f64) -> (f64, f64) {
    let quantile = |p: f64| {
        let mut share = 0.0;
        for pair in nodes.windows(2) {
            // Half of a node's weight lies on either side of it.
            let next = share + 0.5 * (pair[0].weight + pair[1].weight) / one;
            if next >= p {
                let part = (p - share) / (next - share);
                return pair[0].slope + part * (pair[1].slope - pair[0].slope);
            }
            share = next;
        }
        nodes.last().map_or(0.0, |n| n.slope)
    };
    (quantile(0.025), quantile(0.975))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_touches_the_points_from_below() {
        let t: Vec<f64> = (0..200).map(f64::from).collect();
        // Delays in a fixed irregular pattern; some are zero.
        let y: Vec<f64> = (0..200)
            .map(|i| 3.0 + 1e-4 * f64::from(i) + 0.01 * f64::from((i * i * 7 + 3 * i) % 17))
            .collect();
        let line = fit_under(&t, &y).unwrap();
        assert!(
            (line.drift - 1e-4).abs() < 3.0 * line.u_drift.max(1e-6),
            "{line:?}"
        );
        let at_mid = line.offset_s - 1e-4 * line.mid_s;
        assert!((at_mid - 3.0).abs() < 3.0 * line.u_offset_s, "{line:?}");
    }

    #[test]
    fn points_on_one_line_have_no_visible_doubt_and_few_points_no_line() {
        let t: Vec<f64> = (0..20).map(f64::from).collect();
        let y: Vec<f64> = t.iter().map(|t| 1.0 + 0.5 * t).collect();
        let line = fit_under(&t, &y).unwrap();
        assert!(
            (line.drift - 0.5).abs() < 1e-9 && line.u_drift < 1e-9,
            "{line:?}"
        );
        assert_eq!(fit_under(&t[..7], &y[..7]), None);
        assert_eq!(fit_under(&[1.0; 20], &y), None);
    }

    #[test]
    fn the_hull_lies_below_every_point_and_is_convex() {
        let t: Vec<f64> = (0..50).map(|i| f64::from(i / 2)).collect();
        let y: Vec<f64> = (0..50).map(|i| f64::from((i * 37) % 11)).collect();
        let hull = lower_hull(&t, &y);
        for edge in hull.windows(2) {
            let slope = (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0);
            for (t, y) in t.iter().zip(&y) {
                assert!(*y >= edge[0].1 + slope * (t - edge[0].0) - 1e-12);
            }
        }
        assert_eq!((hull[0].0, hull[hull.len() - 1].0), (0.0, 24.0));
    }
}
