//! The pressure zero from relieved stretches, before and after, and its drift.

use super::{Defect, DefectKind};
use crate::analysis::extent::extent;
use crate::analysis::signal::Signal;
use crate::estimate::Estimate;

/// What the relieved stretches at both ends say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroReading {
    /// Reading with the line relieved, to be taken off every pressure, Pa. Its common part is what is
    /// left of the sensor's own zero uncertainty.
    pub zero_pa: Estimate,
    /// Reading before the first rise of pressure, Pa.
    pub before_pa: Option<f64>,
    /// Reading after the last relief, Pa.
    pub after_pa: Option<f64>,
}

/// A relieved stretch reads below this share of the highest pressure of the recording.
const RELIEVED_RATIO: f64 = 0.06;
/// Fewest samples of a relieved stretch.
const FEWEST_SAMPLES: usize = 8;
/// What the relief itself leaves in the line, as a share of full scale: relieved is not
/// exactly zero (common practice, no source).
const U_RELIEVED_RATIO: f64 = 2.0e-4;

/// Reads the zero from the relieved stretches at the beginning and the end of a recording.
///
/// Without any, the zero is taken as zero with the sensor's own uncertainty.
#[must_use]
pub fn read_zero(signal: &Signal) -> ZeroReading {
    let highest = extent(&signal.pressure_pa).map_or(0.0, |range| range.high.max(0.0));
    let limit = RELIEVED_RATIO * highest;
    let before = settled(signal.pressure_pa.iter().copied(), limit);
    let after = settled(signal.pressure_pa.iter().rev().copied(), limit);
    let u_zero_pa = signal.pressure_sensor.u_zero_pa;
    let u_left_pa = U_RELIEVED_RATIO * signal.pressure_sensor.full_scale_pa.unwrap_or(highest);
    let zero_pa = match (before, after) {
        (Some(a), Some(b)) => {
            let u = (0.5 * (a.1.hypot(b.1))).hypot((b.0 - a.0).abs() / 12f64.sqrt());
            Estimate::new(0.5 * (a.0 + b.0), 0.0, u.hypot(u_left_pa))
        }
        (Some((value, u)), None) | (None, Some((value, u))) => {
            Estimate::new(value, 0.0, u.hypot(u_left_pa))
        }
        (None, None) => Estimate::new(0.0, 0.0, u_zero_pa),
    };
    ZeroReading {
        zero_pa,
        before_pa: before.map(|b| b.0),
        after_pa: after.map(|a| a.0),
    }
}

/// Median and its standard uncertainty of the leading samples below a limit; the last fifth of
/// them is left out, where pressure may already move.
fn settled(samples: impl Iterator<Item = f64>, limit: f64) -> Option<(f64, f64)> {
    let mut low: Vec<f64> = samples
        .filter(|p| p.is_finite())
        .take_while(|p| *p < limit)
        .collect();
    low.truncate(low.len() * 4 / 5);
    if low.len() < FEWEST_SAMPLES {
        return None;
    }
    // A relief bleeds down exponentially: only the half that lies nearest to the end is settled.
    low.truncate((low.len() / 2).max(FEWEST_SAMPLES));
    low.sort_by(f64::total_cmp);
    let median = low[low.len() / 2];
    let spread = low[low.len() * 3 / 4] - low[low.len() / 4];
    #[allow(clippy::cast_precision_loss)]
    let u = 1.2533 * spread / 1.349 / (low.len() as f64).sqrt();
    Some((median, u))
}

impl ZeroReading {
    /// Drift between the two ends, and a missing zero.
    pub(super) fn defects(&self, signal: &Signal) -> Vec<Defect> {
        let (first_s, last_s) = (
            signal.t_s.first().copied().unwrap_or(0.0),
            signal.t_s.last().copied().unwrap_or(0.0),
        );
        let full_scale_pa = signal.pressure_sensor.full_scale_pa.unwrap_or(0.0);
        match (self.before_pa, self.after_pa) {
            (Some(a), Some(b)) if (b - a).abs() > (0.005 * full_scale_pa).max(0.5e5) => {
                vec![Defect {
                    kind: DefectKind::ZeroDrift,
                    from_s: first_s,
                    to_s: last_s,
                    magnitude: Some(b - a),
                    is_fatal: false,
                    consequence: "the relieved reading moved between the beginning and the end: \
                                  the middle of the two is used and the difference widens every \
                                  pressure"
                        .to_owned(),
                }]
            }
            (None, None) => vec![Defect {
                kind: DefectKind::ZeroUnknown,
                from_s: first_s,
                to_s: last_s,
                magnitude: None,
                is_fatal: false,
                consequence: "no relieved stretch was recorded: the sensor's own zero uncertainty \
                              widens every pressure; begin and end a recording with the line \
                              relieved"
                    .to_owned(),
            }],
            _ => Vec::new(),
        }
    }
}
