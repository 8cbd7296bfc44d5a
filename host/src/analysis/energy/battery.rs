//! Charge used, internal resistance, and what sags as the charge goes.
//!
//! Charge is current summed over time; a stretch without readings is not bridged but counted. The
//! line of a quantity (sag, supply pressure, voltage) against the charge used says where it reaches a
//! limit; never beyond the charge that was measured.

use serde::{Deserialize, Serialize};

use super::EnergyError;
use crate::analysis::fit::line::{Line, LineError, Scatter, fit_line};
use crate::estimate::{Estimate, Interval};

/// Longest step between two readings of the current that is summed over, s: the slow channels come
/// at 1 Hz or faster, so a longer step is a loss.
const STEP_MAX_S: f64 = 5.0;

/// Charge drawn over a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChargeUsed {
    /// Charge drawn up to each reading, A s; as long as the readings.
    pub charge_a_s: Vec<f64>,
    /// Time that was not summed because readings were missing, s.
    pub unknown_s: f64,
}

/// Sum current over time (trapezium rule); steps longer than 5 s are counted as unknown.
///
/// *Shape*: times (s, increasing) and currents (A) of one length; two or more.
///
/// *Errors*: lengths that differ, fewer than two readings, a reading that is not finite, a time that
/// does not increase.
pub fn sum_charge(t_s: &[f64], current_a: &[f64]) -> Result<ChargeUsed, EnergyError> {
    if t_s.len() != current_a.len() {
        return Err(EnergyError::Lengths {
            n_first: t_s.len(),
            n_second: current_a.len(),
        });
    }
    if t_s.len() < 2 {
        return Err(EnergyError::TooFew {
            what: "charge",
            n_readings: t_s.len(),
        });
    }
    let mut used = ChargeUsed {
        charge_a_s: Vec::with_capacity(t_s.len()),
        unknown_s: 0.0,
    };
    let mut total = 0.0;
    for (index, (&t, &a)) in t_s.iter().zip(current_a).enumerate() {
        let step = if index == 0 { 0.0 } else { t - t_s[index - 1] };
        let is_usable = t.is_finite() && a.is_finite() && (index == 0 || step > 0.0);
        if !is_usable {
            return Err(EnergyError::BadReading {
                index: index + 1,
                first: t,
                second: a,
            });
        }
        if step > STEP_MAX_S {
            used.unknown_s += step;
        } else if index > 0 {
            total += 0.5 * step * (a + current_a[index - 1]);
        }
        used.charge_a_s.push(total);
    }
    Ok(used)
}

/// A battery behind its internal resistance: `v = open - resistance * i`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct InternalResistance {
    /// Voltage without load, V.
    pub open_v: Estimate,
    /// Resistance, ohm.
    pub resistance_ohm: Estimate,
}

/// Internal resistance from voltages and currents of one state of charge.
///
/// *Shape*: voltages (V) and currents (A) of one length; three or more at two currents or more, taken
/// close enough in time that the charge hardly changed.
///
/// *Errors*: lengths that differ, too few readings, a reading that is not finite.
///
/// *Source*: straight line, uncertainty from its scatter.
pub fn fit_internal_resistance(
    supply_v: &[f64],
    supply_a: &[f64],
) -> Result<InternalResistance, EnergyError> {
    let unit = vec![1.0; supply_a.len()];
    let line = fit_line(supply_a, supply_v, &unit, 0.0, Scatter::FromResiduals)
        .map_err(|e| from_line("internal resistance", supply_a.len(), &e))?;
    Ok(InternalResistance {
        open_v: line.at(0.0),
        resistance_ohm: line.slope().scaled(-1.0),
    })
}

/// Something measured at one state of charge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChargePoint {
    /// Share of the battery's charge used so far, 0 full, 1 empty.
    pub used_ratio: f64,
    /// What was measured, with its independent uncertainty (for example a burst's sag).
    pub value: Estimate,
}

/// Where a quantity reaches a limit as the charge goes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reaches", rename_all = "snake_case")]
pub enum ReachesLimit {
    /// At this share of the charge, with the 95 % interval cut to what was measured.
    At {
        /// Share used.
        used_ratio: f64,
        /// 95 % interval.
        interval_95: Interval,
    },
    /// Not within the charge that was measured.
    NotWithin {
        /// Greatest share measured.
        used_ratio: f64,
    },
    /// The whole measured range lies beyond the limit already.
    Already {
        /// Least share measured.
        used_ratio: f64,
    },
    /// The readings cannot tell.
    CannotTell,
}

/// A quantity against the charge used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AgainstCharge {
    line: Line,
    /// Shares of charge measured.
    pub range: Interval,
}

/// Line of a quantity against the charge used.
///
/// *Shape*: three points or more at two shares or more.
///
/// *Errors*: too few points, a number that is not finite, a share outside 0 to 1.
///
/// *Source*: weighted line, widened when it scatters more than stated ([`fit_line`]).
pub fn fit_against_charge(points: &[ChargePoint]) -> Result<AgainstCharge, EnergyError> {
    if let Some(point) = points.iter().find(|p| !(0.0..=1.0).contains(&p.used_ratio)) {
        return Err(EnergyError::NotAShare {
            what: "charge used",
            value: point.used_ratio,
        });
    }
    let what = "a line against charge";
    if points.len() < 3 {
        return Err(EnergyError::TooFew {
            what,
            n_readings: points.len(),
        });
    }
    let x: Vec<f64> = points.iter().map(|p| p.used_ratio).collect();
    let y: Vec<f64> = points.iter().map(|p| p.value.value).collect();
    let u: Vec<f64> = points.iter().map(|p| p.value.u_independent).collect();
    let range = Interval {
        low: x.iter().copied().fold(f64::INFINITY, f64::min),
        high: x.iter().copied().fold(0.0, f64::max),
    };
    let middle = 0.5 * (range.low + range.high);
    let line = fit_line(&x, &y, &u, middle, Scatter::Larger)
        .map_err(|e| from_line(what, points.len(), &e))?;
    Ok(AgainstCharge { line, range })
}

impl AgainstCharge {
    /// The quantity at a share of charge inside the measured range; `None` outside.
    #[must_use]
    pub fn at(&self, used_ratio: f64) -> Option<Estimate> {
        self.range
            .contains(used_ratio)
            .then(|| self.line.at(used_ratio))
    }

    /// Change of the quantity over the whole charge.
    #[must_use]
    pub fn slope(&self) -> Estimate {
        self.line.slope()
    }

    /// Where the quantity rises to a limit (or falls to it, when the line falls).
    ///
    /// The interval holds every share whose 95 % band holds the limit.
    #[must_use]
    pub fn reaches(&self, limit: f64) -> ReachesLimit {
        let steps: u16 = 1000;
        let width = self.range.high - self.range.low;
        let shares = (0..=steps).map(|i| self.range.low + width * f64::from(i) / f64::from(steps));
        let inside: Vec<f64> = shares
            .filter(|x| self.line.at(*x).interval_95().contains(limit))
            .collect();
        let rises = self.line.slope > 0.0;
        let is_beyond = |x: f64| (self.line.at(x).value >= limit) == rises;
        match (inside.first(), inside.last()) {
            (Some(&low), Some(&high)) => {
                let used_ratio = self.line.x0 + (limit - self.line.at_x0) / self.line.slope;
                if inside.len() > usize::from(steps) || !self.range.contains(used_ratio) {
                    ReachesLimit::CannotTell
                } else {
                    ReachesLimit::At {
                        used_ratio,
                        interval_95: Interval { low, high },
                    }
                }
            }
            _ if is_beyond(self.range.low) => ReachesLimit::Already {
                used_ratio: self.range.low,
            },
            _ => ReachesLimit::NotWithin {
                used_ratio: self.range.high,
            },
        }
    }
}

fn from_line(what: &'static str, n_readings: usize, error: &LineError) -> EnergyError {
    match error {
        LineError::BadPoint { index, x, y, .. } => EnergyError::BadReading {
            index: index + 1,
            first: *x,
            second: *y,
        },
        LineError::Lengths { n_x, n_y, .. } => EnergyError::Lengths {
            n_first: *n_x,
            n_second: *n_y,
        },
        LineError::TooFew { .. } | LineError::NoFreedom { .. } => {
            EnergyError::TooFew { what, n_readings }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charge_is_summed_and_a_loss_is_counted_and_not_bridged() {
        let used = sum_charge(&[0.0, 1.0, 2.0, 20.0, 21.0], &[2.0, 4.0, 4.0, 4.0, 0.0]).unwrap();
        assert_eq!(used.charge_a_s, [0.0, 3.0, 7.0, 7.0, 9.0]);
        assert_eq!(used.unknown_s, 18.0);
    }

    #[test]
    fn internal_resistance_is_the_fall_of_voltage_with_current() {
        let amps = [0.0, 5.0, 10.0, 15.0];
        let volts = amps.map(|a| 20.0 - 0.08 * a);
        let found = fit_internal_resistance(&volts, &amps).unwrap();
        assert!((found.open_v.value - 20.0).abs() < 1e-9);
        assert!((found.resistance_ohm.value - 0.08).abs() < 1e-9);
    }

    fn sag(used_ratio: f64, value: f64) -> ChargePoint {
        ChargePoint {
            used_ratio,
            value: Estimate::new(value, 0.005, 0.0),
        }
    }

    #[test]
    fn a_sag_reaches_its_limit_at_a_share_of_charge_or_not_within_what_was_measured() {
        let points = [0.0, 0.2, 0.4, 0.6, 0.8].map(|x| sag(x, 0.02 + 0.1 * x));
        let line = fit_against_charge(&points).unwrap();
        match line.reaches(0.07) {
            ReachesLimit::At {
                used_ratio,
                interval_95,
            } => {
                assert!((used_ratio - 0.5).abs() < 1e-9);
                assert!(interval_95.contains(0.5) && interval_95.high - interval_95.low < 0.3);
            }
            other => panic!("{other:?}"),
        }
        assert_eq!(
            line.reaches(0.5),
            ReachesLimit::NotWithin { used_ratio: 0.8 }
        );
        assert_eq!(
            line.reaches(-0.5),
            ReachesLimit::Already { used_ratio: 0.0 }
        );
        assert_eq!(line.at(0.9), None);
        let flat = [0.0, 0.4, 0.8].map(|x| sag(x, 0.05));
        assert_eq!(
            fit_against_charge(&flat).unwrap().reaches(0.05),
            ReachesLimit::CannotTell
        );
    }

    #[test]
    fn each_unusable_entry_is_refused_by_name() {
        #[track_caller]
        fn check<T: std::fmt::Debug>(result: Result<T, EnergyError>, message: &str) {
            assert_eq!(result.unwrap_err().to_string(), message);
        }
        check(
            sum_charge(&[0.0], &[1.0, 2.0]),
            "1 times and 2 values; they must agree in number",
        );
        check(
            sum_charge(&[0.0, 0.0], &[1.0, 1.0]),
            "reading 2 cannot be used: 0, 1",
        );
        check(
            fit_internal_resistance(&[20.0, 19.0], &[1.0, 2.0]),
            "internal resistance needs three readings at two different values or more, there are 2",
        );
        check(
            fit_internal_resistance(&[20.0, 19.0, f64::NAN], &[1.0, 2.0, 3.0]),
            "reading 3 cannot be used: 3, NaN",
        );
        check(
            fit_against_charge(&[sag(1.2, 0.1)]),
            "charge used is 1.2; it must lie between 0 and 1",
        );
        check(
            fit_against_charge(&[]),
            "a line against charge needs three readings at two different values or more, there are 0",
        );
    }
}
