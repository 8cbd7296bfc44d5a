//! Is the metered flow one that a tip can pass at all?
//!
//! No hole passes more than its area times the ideal outflow speed (energy conservation; Bernoulli as in ISO 5167-1). A
//! worn tip is somewhat larger than its stamp and a thick coating passes far less than the ideal, so both limits leave
//! room; a constant that is wrong by the thousand of litre and millilitre falls outside either. In go steady bursts, out
//! comes one defect. Says nothing of smaller errors: a timed catch finds these.

use super::{Defect, DefectKind};
use crate::analysis::thresholds::{FLOW_IN_DOUBT_ABOVE_RATIO, FLOW_IN_DOUBT_BELOW_RATIO};

/// Density at which the ideal flow is greatest: lighter than any coating or thinner (common practice, no source).
const LEAST_DENSITY_KG_PER_M3: f64 = 700.0;
/// Hole of an unknown tip, m: from the smallest to the greatest that a code of three figures can name, 1 to 99 thou.
const ANY_ORIFICE_M: (f64, f64) = (2.54e-5, 2.514_6e-3);

/// A burst's steady state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowPoint {
    /// Gauge pressure while spraying, Pa.
    pub pressure_pa: f64,
    /// Metered flow, m3/s.
    pub flow_m3_per_s: f64,
    /// Stamped orifice of its tip, m, where known.
    pub orifice_diameter_m: Option<f64>,
}

/// Names the flow as doubtful where most bursts lie outside what their tips can pass.
///
/// *Shape*: any order; bursts without pressure or flow are passed over; empty gives `None`. The magnitude is the median of
/// flow over ideal flow, 1.
#[must_use]
pub fn find_implausible_flow(points: &[FlowPoint], (from_s, to_s): (f64, f64)) -> Option<Defect> {
    let ideal = |p: &FlowPoint, d: f64| {
        let area = 0.25 * std::f64::consts::PI * d * d;
        area * (2.0 * p.pressure_pa / LEAST_DENSITY_KG_PER_M3).sqrt()
    };
    let is_usable = |p: &&FlowPoint| p.pressure_pa > 0.0 && p.flow_m3_per_s > 0.0;
    let points: Vec<&FlowPoint> = points.iter().filter(is_usable).collect();
    let beyond = points.iter().filter(|p| {
        let (small, large) = p.orifice_diameter_m.map_or(ANY_ORIFICE_M, |d| (d, d));
        p.flow_m3_per_s > FLOW_IN_DOUBT_ABOVE_RATIO * ideal(p, large)
            || p.flow_m3_per_s < FLOW_IN_DOUBT_BELOW_RATIO * ideal(p, small)
    });
    if points.is_empty() || 2 * beyond.count() <= points.len() {
        return None;
    }
    let mut ratios: Vec<f64> = points
        .iter()
        .filter_map(|p| Some(p.flow_m3_per_s / ideal(p, p.orifice_diameter_m?)))
        .filter(|r| r.is_finite())
        .collect();
    ratios.sort_by(f64::total_cmp);
    Some(Defect {
        kind: DefectKind::FlowImplausible,
        from_s,
        to_s,
        magnitude: ratios.get(ratios.len() / 2).copied(),
        is_fatal: false,
        consequence: "the flow is one that no tip of this size can pass: pulses_per_litre in session.toml (or the unit of \
                      flow_l_min, or the tip's code, or the unit of the pressure) is wrong; only ratios of flows are used"
            .to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(flow_l_min: f64, thou: Option<f64>) -> FlowPoint {
        FlowPoint {
            pressure_pa: 150.0e5,
            flow_m3_per_s: flow_l_min / 6.0e4,
            orifice_diameter_m: thou.map(|t| t * 2.54e-5),
        }
    }

    /// By hand: 0.381 mm is 1.14e-7 m2; 150 bar at 700 kg/m3 gives 207 m/s; so 1.416 L/min is the ideal.
    #[test]
    fn a_flow_within_reach_of_the_hole_is_believed_and_one_beyond_is_named() {
        let find = |list: &[FlowPoint]| find_implausible_flow(list, (0.0, 9.0));
        for believed in [4.2, 1.416, 0.8, 0.0145] {
            assert_eq!(find(&[at(believed, Some(15.0))]), None, "{believed}");
        }
        for wrong in [4.3, 800.0, 0.0138, 0.0008] {
            let defect = find(&[at(wrong, Some(15.0))]).unwrap();
            assert_eq!(defect.kind, DefectKind::FlowImplausible);
            let ratio = defect.magnitude.unwrap();
            assert!((ratio - wrong / 1.416).abs() < 0.002 * ratio, "{ratio}");
            assert!(defect.consequence.contains("pulses_per_litre"));
        }
    }

    #[test]
    fn one_odd_burst_is_no_defect_and_an_unknown_tip_has_wide_limits() {
        let find = |list: &[FlowPoint]| find_implausible_flow(list, (0.0, 9.0));
        let (right, wrong) = (at(0.8, Some(15.0)), at(800.0, Some(15.0)));
        assert_eq!(find(&[right, right, wrong]), None);
        assert_eq!(find(&[right, wrong]), None, "half is not most");
        assert!(find(&[right, wrong, wrong]).is_some());
        assert_eq!(find(&[at(40.0, None)]), None);
        assert!(find(&[at(800.0, None)]).is_some());
        assert_eq!(find(&[]), None);
        assert_eq!(find(&[at(0.0, Some(15.0)), at(f64::NAN, None)]), None);
    }
}
