//! Which bursts share one pressure, and how many distinct pressures there are.
//!
//! Two bursts at one control position differ by a percent or two: they are *one* pressure, a replicate, and
//! say nothing about the curve's slope. In: pressures with the independent part of their uncertainty. Out: a
//! cluster number for each.

use super::CurvePoint;

/// Least relative step between distinct pressures.
///
/// Bursts repeated at one control position spread by 1 to 2 % (control dead band; common practice, no
/// source). Just below the step two pressures count as one, and the curve may be refused for want of a third;
/// just above they count as two, and the third point then adds a lever arm of 3 % at most.
pub const DISTINCT_STEP_RATIO: f64 = 0.03;

/// A chain of neighbours closer than the step is cut when it grows wider than this: a slow sweep of
/// pressure is many pressures, not one.
pub const CLUSTER_WIDTH_RATIO: f64 = 2.0 * DISTINCT_STEP_RATIO;

/// A step must also exceed this many standard uncertainties of the difference: two pressures that cannot be told
/// apart are not distinct (two-sided 95 %).
const DISTINCT_SIGMAS: f64 = 2.0;

/// Cluster number of each point, in the order given; clusters are numbered from the lowest pressure.
///
/// *Shape*: pressures are positive and finite. *Cost*: sorting.
#[must_use]
pub fn cluster_pressures(points: &[CurvePoint]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    let by_pressure = |&a: &usize, &b: &usize| {
        let (a, b) = (points[a].pressure_pa.value, points[b].pressure_pa.value);
        a.total_cmp(&b)
    };
    order.sort_by(by_pressure);
    let mut clusters = vec![0; points.len()];
    let Some(&lowest) = order.first() else {
        return clusters;
    };
    let (mut now, mut first, mut before) = (0, lowest, lowest);
    for &after in &order[1..] {
        let is_step = is_apart(&points[before], &points[after], DISTINCT_STEP_RATIO);
        if is_step || is_apart(&points[first], &points[after], CLUSTER_WIDTH_RATIO) {
            now += 1;
            first = after;
        }
        clusters[after] = now;
        before = after;
    }
    clusters
}

/// Log-mean pressure of each cluster, ascending, Pa.
#[must_use]
pub fn distinct_pressures(points: &[CurvePoint]) -> Vec<f64> {
    let clusters = cluster_pressures(points);
    let n_clusters = clusters.iter().map(|c| c + 1).max().unwrap_or(0);
    let mut sums = vec![(0.0, 0.0); n_clusters];
    for (point, &cluster) in points.iter().zip(&clusters) {
        sums[cluster].0 += 1.0;
        sums[cluster].1 += point.pressure_pa.value.ln();
    }
    sums.iter().map(|(n, sum)| (sum / n).exp()).collect()
}

fn is_apart(low: &CurvePoint, high: &CurvePoint, step_ratio: f64) -> bool {
    let (a, b) = (&low.pressure_pa, &high.pressure_pa);
    let doubt = DISTINCT_SIGMAS * a.u_independent.hypot(b.u_independent);
    b.value - a.value > (step_ratio * a.value).max(doubt)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Estimate;

    #[track_caller]
    fn check(pressures: &[f64], u_ratio: f64, expected: &[usize]) {
        let points: Vec<CurvePoint> = pressures
            .iter()
            .enumerate()
            .map(|(burst_index, &p)| CurvePoint {
                burst_index,
                pressure_pa: Estimate::new(p, u_ratio * p, 0.0),
                flow_m3_per_s: Estimate::new(1.0, 0.01, 0.0),
            })
            .collect();
        assert_eq!(cluster_pressures(&points), expected);
    }

    #[test]
    fn replicates_of_one_control_position_are_one_pressure_in_any_order() {
        check(&[50.0, 77.0, 50.7, 76.1, 49.6], 0.001, &[0, 1, 0, 1, 0]);
    }

    #[test]
    fn both_sides_of_the_step() {
        check(&[100.0, 102.9], 0.0, &[0, 0]);
        check(&[100.0, 103.1], 0.0, &[0, 1]);
    }

    #[test]
    fn pressures_that_cannot_be_told_apart_are_one() {
        check(&[100.0, 105.0], 0.03, &[0, 0]);
        check(&[100.0, 110.0], 0.03, &[0, 1]);
    }

    #[test]
    fn a_slow_sweep_is_several_pressures() {
        check(
            &[100.0, 102.0, 104.0, 106.1, 108.0, 110.0],
            0.0,
            &[0, 0, 0, 1, 1, 1],
        );
    }

    #[test]
    fn no_points_have_no_pressures() {
        assert!(distinct_pressures(&[]).is_empty());
    }
}
