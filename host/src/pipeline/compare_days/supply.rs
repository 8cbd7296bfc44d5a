//! The pressure held on two days at one control position and one flow.

use thiserror::Error;

use crate::analysis::compare::{
    Calibration, CompareError, Margins, RatioChange, common_flow, compare_supply,
};
use crate::analysis::plan::Supply;
use crate::analysis::supply_curve::SupplyCurve;
use crate::estimate::{Estimate, Interval};
use crate::findings::Findings;

/// Flows of two days that lie no further apart than this count as one: a tip's own wear between two days moves
/// its flow by a few percent, and along the power limit the pressure moves by as much the other way.
const SAME_FLOW_RATIO: f64 = 0.03;

/// Supply curves held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyMove {
    /// Control position.
    pub dial: String,
    /// Index of the earlier recording's curve.
    pub before_curve: usize,
    /// Index of the later recording's curve.
    pub after_curve: usize,
    /// Flow at which they are compared, m3/s.
    pub flow_m3_per_s: f64,
    /// Pressure held, after over before.
    pub ratio: RatioChange,
    /// Supply voltage while spraying at that position, before and after, V.
    pub supply_v: Option<(f64, f64)>,
}

/// Why they are not.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SupplyRefusal {
    /// Two rigs.
    #[error("the recordings are of two rigs, and one pump says nothing of another")]
    OtherRig,
    /// Two taps.
    #[error("the pressure was taken at another place, and the hose lies between")]
    OtherTap,
    /// No supply curve.
    #[error(
        "{name} has no supply curve: no burst has a control position in its notes (column dial); record one burst \
         at full control with its position noted"
    )]
    NoCurve {
        /// The recording.
        name: String,
    },
    /// No control position in common.
    #[error(
        "the control positions differ ({before} and {after}); record one burst on both days at the same one"
    )]
    OtherDial {
        /// Positions of the earlier recording.
        before: String,
        /// Positions of the later one.
        after: String,
    },
    /// No flow in common.
    #[error(
        "the flows differ too far at each control position of both days, as they do through a tip that wore or was blocked; \
         with that put right (a new tip of the same code, a clean one), one burst at full control tells"
    )]
    NoCommonFlow,
    /// As the analysis says.
    #[error(transparent)]
    Compare(#[from] CompareError),
}

pub(super) fn compare(
    before: &Findings,
    after: &Findings,
    calibration: Calibration,
    is_other_rig: bool,
    has_other_tap: bool,
) -> Result<SupplyMove, SupplyRefusal> {
    if is_other_rig {
        return Err(SupplyRefusal::OtherRig);
    }
    if has_other_tap {
        return Err(SupplyRefusal::OtherTap);
    }
    for f in [before, after] {
        if f.supply.is_empty() {
            return Err(SupplyRefusal::NoCurve {
                name: f.name.clone(),
            });
        }
    }
    let is_same =
        |a: &SupplyCurve, b: &SupplyCurve| a.dial.trim().eq_ignore_ascii_case(b.dial.trim());
    let pairs: Vec<(usize, usize)> = after
        .supply
        .iter()
        .enumerate()
        .filter_map(|(a, s)| Some((before.supply.iter().position(|b| is_same(b, s))?, a)))
        .collect();
    if pairs.is_empty() {
        let dials = |f: &Findings| {
            let names: Vec<&str> = f.supply.iter().map(|s| s.dial.as_str()).collect();
            names.join(", ")
        };
        return Err(SupplyRefusal::OtherDial {
            before: dials(before),
            after: dials(after),
        });
    }
    // The highest position first: it shows what the pump can do.
    let compared = pairs.iter().find_map(|(b, a)| {
        let (sb, sa) = (&before.supply[*b], &after.supply[*a]);
        let q = common_flow(widened(flows(sb)), widened(flows(sa)))?;
        Some((*b, *a, q))
    });
    let (b, a, q) = compared.ok_or(SupplyRefusal::NoCommonFlow)?;
    let (sb, sa) = (&before.supply[b], &after.supply[a]);
    let ratio = compare_supply(
        &|q: f64| held_near(sb, q),
        &|q: f64| held_near(sa, q),
        q,
        calibration,
        &Margins::default(),
    )?;
    Ok(SupplyMove {
        dial: sa.dial.clone(),
        before_curve: b,
        after_curve: a,
        flow_m3_per_s: q,
        ratio,
        supply_v: voltage(sb).zip(voltage(sa)),
    })
}

fn flows(s: &SupplyCurve) -> Interval {
    let all = || s.points.iter().map(|p| p.flow_m3_per_s.value);
    Interval {
        low: all().fold(f64::INFINITY, f64::min),
        high: all().fold(0.0, f64::max),
    }
}

fn widened(flows: Interval) -> Interval {
    Interval {
        low: flows.low * (1.0 - SAME_FLOW_RATIO),
        high: flows.high * (1.0 + SAME_FLOW_RATIO),
    }
}

/// Pressure held at a flow, or at the nearest measured one within the tolerance, with its doubt.
fn held_near(s: &SupplyCurve, flow: f64) -> Option<Estimate> {
    let range = flows(s);
    let inside = flow.clamp(range.low, range.high * (1.0 - 1e-6));
    let held = s.pressure_held_at(inside)?;
    let off = (flow / inside).ln().abs();
    Some(Estimate {
        u_independent: held.u_independent.hypot(off * held.value),
        ..held
    })
}

/// Median supply voltage while spraying, V.
fn voltage(s: &SupplyCurve) -> Option<f64> {
    let mut volts: Vec<f64> = s.points.iter().filter_map(|p| p.supply_v).collect();
    volts.sort_by(f64::total_cmp);
    volts.get(volts.len() / 2).copied()
}
