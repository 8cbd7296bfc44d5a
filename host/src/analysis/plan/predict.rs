//! An unmeasured tip's nozzle curve from measured ones in the same coating.
//!
//! By the dimensional argument of [`crate::analysis::similarity`] a tip of diameter `d` at pressure `p`
//! does what a measured tip of diameter `d_1` does at `p' = p r^(2 m / (2 - m))`, `r = d / d_1`, where both
//! have one Reynolds number: `q(p) = q_1(p') r^2 sqrt(p / p')`. Each measured tip makes such a
//! prediction; they are averaged by weight, and where there are several the shear index m is drawn from them
//! too, starting from what is believed of it. The stamping tolerance of every tip, the planned one
//! included, and the fit of every curve are in the doubt; the meter's and sensor's calibration is the
//! common part. No supply here.

use super::hose::{Hose, U_LOSS_RATIO};
use super::{PlanError, as_known};
use crate::analysis::nozzle_curve::{CurveForm, NozzleCurve};
use crate::estimate::{Estimate, Interval};

/// Relative standard uncertainty of the effective orifice of a new tip against its stamped size:
/// sizes come in whole thousandths of an inch, and half a thousandth either way, rectangular, is 2 % of a
/// 0.015 inch tip (common practice, no source).
pub const U_ORIFICE_RATIO: f64 = 0.02;
/// Largest ratio of planned to measured orifice, either way, that is predicted at all: beyond it the
/// liquid's state in the tip is no longer alike.
pub const ORIFICE_RATIO_MAX: f64 = 2.0;
/// Lowest and highest shear index that a fit may find.
const SHEAR_INDEX_RANGE: (f64, f64) = (0.2, 1.4);

/// A tip with a nozzle curve.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredTip {
    /// Its curve, in the coating that is planned.
    pub curve: NozzleCurve,
    /// Nominal orifice diameter, m.
    pub orifice_m: f64,
    /// Relative standard uncertainty of the effective orifice; [`U_ORIFICE_RATIO`] for a new tip, more
    /// for a worn one.
    pub u_orifice_ratio: f64,
}

/// The tip that is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedTip {
    /// Nominal orifice diameter, m.
    pub orifice_m: f64,
    /// Relative standard uncertainty of the effective orifice.
    pub u_orifice_ratio: f64,
}

/// A nozzle curve that was not measured.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictedCurve {
    tips: Vec<MeasuredTip>,
    planned: PlannedTip,
    shear_index: Estimate,
    hose: Option<Hose>,
}

/// Predict the curve of a tip.
///
/// *Shape*: one measured tip or more, all in the planned coating at the planned temperature. `hose` is
/// the stretch between tap and gun, `None` when the tap is at the gun or nothing is known of it.
///
/// *Errors*: [`PlanError`]: no tip, a diameter or tolerance that is no usable number, a planned orifice
/// beyond twice or half of every measured one.
///
/// *Source*: derived above.
pub fn predict_curve(
    tips: &[MeasuredTip],
    planned: PlannedTip,
    shear_index: Estimate,
    hose: Option<Hose>,
) -> Result<PredictedCurve, PlanError> {
    if tips.is_empty() {
        return Err(PlanError::NoCurve);
    }
    let sizes = tips.iter().map(|t| (t.orifice_m, t.u_orifice_ratio));
    for (orifice_m, u_ratio) in sizes.chain([(planned.orifice_m, planned.u_orifice_ratio)]) {
        let is_size = orifice_m.is_finite() && orifice_m > 0.0;
        if !(is_size && (0.0..0.5).contains(&u_ratio)) {
            return Err(PlanError::BadOrifice { orifice_m, u_ratio });
        }
    }
    if !(shear_index.value > 0.0 && shear_index.value < 1.5 && shear_index.u_combined() > 0.0) {
        return Err(PlanError::BadShearIndex {
            shear_index: shear_index.value,
        });
    }
    if hose.is_some_and(|h| !h.is_usable()) {
        return Err(PlanError::BadHose);
    }
    // Distance of two orifices, the same for half and for twice.
    let apart = |tip: &MeasuredTip| (planned.orifice_m / tip.orifice_m).ln().abs();
    let nearest = tips.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)));
    if let Some(nearest) = nearest.filter(|n| apart(n) > ORIFICE_RATIO_MAX.ln()) {
        return Err(PlanError::TooFar {
            planned_m: planned.orifice_m,
            nearest_m: nearest.orifice_m,
        });
    }
    Ok(PredictedCurve {
        tips: tips.to_vec(),
        planned,
        shear_index,
        hose,
    })
}

impl PredictedCurve {
    /// Flow at a pressure at the tap, m3/s.
    ///
    /// *Errors*: `None` when the pressure is not finite and above zero.
    #[must_use]
    pub fn flow_at(&self, pressure_pa: f64) -> Option<Estimate> {
        if !(pressure_pa.is_finite() && pressure_pa > 0.0) {
            return None;
        }
        let ln_flow = self.ln_flow(pressure_pa, 1.0, self.planned.orifice_m)?;
        // What the planned tip's own size and the loss in the hose add.
        let step = self.planned.u_orifice_ratio;
        let larger = self.ln_flow(pressure_pa, 1.0, self.planned.orifice_m * (1.0 + step))?;
        let size = larger.value - ln_flow.value;
        let hose = match self.hose {
            Some(_) => {
                let more = self.ln_flow(pressure_pa, 1.0 + U_LOSS_RATIO, self.planned.orifice_m)?;
                more.value - ln_flow.value
            }
            None => 0.0,
        };
        let flow = ln_flow.value.exp();
        let independent = ln_flow.u_independent.hypot(size).hypot(hose);
        let estimate = Estimate::new(flow, flow * independent, flow * ln_flow.u_common);
        flow.is_finite().then_some(estimate)
    }

    /// The planned tip with another orifice, the rest as it is.
    #[must_use]
    pub fn with_orifice(&self, orifice_m: f64) -> Self {
        let planned = PlannedTip {
            orifice_m,
            ..self.planned
        };
        Self {
            planned,
            ..self.clone()
        }
    }

    /// Nominal orifice of the planned tip, m.
    #[must_use]
    pub fn orifice_m(&self) -> f64 {
        self.planned.orifice_m
    }

    /// Local exponent of the predicted curve at a pressure.
    #[must_use]
    pub fn exponent_at(&self, pressure_pa: f64) -> Option<f64> {
        let step = 0.01f64;
        let above = self.flow_at(pressure_pa * step.exp())?.value;
        let below = self.flow_at(pressure_pa * (-step).exp())?.value;
        Some((above / below).ln() / (2.0 * step))
    }

    /// True when the measured curves must be carried beyond their ranges to predict at a pressure: none
    /// of them reaches the like pressure.
    #[must_use]
    pub fn is_extrapolated(&self, pressure_pa: f64) -> bool {
        let m = self.shear_index.value;
        !self.tips.iter().any(|tip| {
            let alike = pressure_pa * self.like_pressure_ratio(tip, m, self.planned.orifice_m);
            let range: Interval = tip.curve.range_pa;
            // A tenth beyond either end is still the same stretch of the curve.
            alike >= range.low / 1.1 && alike <= range.high * 1.1
        })
    }

    /// The stretch of pressures, Pa, that the measured curves' own ranges carry to this tip: from the lowest to the
    /// highest like pressure of any of them.
    #[must_use]
    pub fn measured_range_pa(&self) -> Interval {
        let m = self.shear_index.value;
        let ranges = self.tips.iter().map(|tip| {
            let ratio = self.like_pressure_ratio(tip, m, self.planned.orifice_m);
            tip.curve.range_pa.map(|p| p / ratio)
        });
        ranges
            .reduce(|a, b| Interval {
                low: a.low.min(b.low),
                high: a.high.max(b.high),
            })
            .unwrap_or(Interval {
                low: 0.0,
                high: 0.0,
            })
    }

    /// Ratio of the measured tip's like pressure to the planned one's.
    fn like_pressure_ratio(&self, tip: &MeasuredTip, m: f64, orifice_m: f64) -> f64 {
        (orifice_m / tip.orifice_m).powf(2.0 * m / (2.0 - m))
    }

    /// Logarithm of flow from all tips: fit, shear index and measured tips' sizes in the independent
    /// part, calibration in the common one.
    fn ln_flow(&self, pressure_pa: f64, loss_scale: f64, orifice_m: f64) -> Option<Estimate> {
        let (m_0, u_m) = (self.shear_index.value, self.shear_index.u_combined());
        let mut m = m_0;
        let mut fit = Fit::default();
        for _ in 0..8 {
            let step = 1e-3;
            let mut sums = Sums::default();
            for tip in &self.tips {
                let at = |tip: &MeasuredTip, m: f64| {
                    self.ln_flow_by(tip, m, (pressure_pa, loss_scale, orifice_m))
                };
                let here = at(tip, m)?;
                let slope = (at(tip, m + step)?.value - here.value) / step;
                let resized = MeasuredTip {
                    orifice_m: tip.orifice_m * (1.0 + tip.u_orifice_ratio),
                    curve: tip.curve.clone(),
                    ..*tip
                };
                let size = at(&resized, m)?.value - here.value;
                let variance = here.u_independent.powi(2) + size * size;
                sums.add(here, variance.max(f64::MIN_POSITIVE), slope);
            }
            fit = sums.solve(m - m_0, u_m, self.tips.len());
            let next = (m + fit.step).clamp(SHEAR_INDEX_RANGE.0, SHEAR_INDEX_RANGE.1);
            let is_settled = (next - m).abs() < 1e-6;
            m = next;
            if is_settled {
                break;
            }
        }
        Some(Estimate::new(fit.value, fit.u_value, fit.u_common))
    }

    /// Logarithm of flow from one tip by similarity, hose loss taken off and put on again.
    fn ln_flow_by(
        &self,
        tip: &MeasuredTip,
        m: f64,
        (pressure_pa, loss_scale, orifice_m): (f64, f64, f64),
    ) -> Option<Estimate> {
        let loss = |flow: f64| self.hose.map_or(0.0, |h| loss_scale * h.loss_pa(flow));
        let ratio = self.like_pressure_ratio(tip, m, orifice_m);
        let r = orifice_m / tip.orifice_m;
        // Losses are a few percent of the pressure, so plain iteration settles fast; where it swings further out
        // instead, because the loss grows with the flow that it lowers, it is damped.
        let (mut own, mut like) = (0.0, 0.0);
        let (mut weight, mut last_step) = (1.0, f64::INFINITY);
        let mut found = None;
        for _ in 0..60 {
            let at_tip = (pressure_pa - loss(own)).max(0.05 * pressure_pa);
            let at_like = at_tip * ratio;
            let flow = flow_with_forms(&tip.curve, at_like + loss(like));
            let step = flow.value - like;
            if step.abs() > last_step {
                weight *= 0.5;
            }
            last_step = step.abs();
            like += weight * step;
            let next = like * r * r / ratio.sqrt();
            let is_settled = (next - own).abs() <= 1e-10 * next && found.is_some();
            own = next;
            found = Some(flow);
            if is_settled {
                break;
            }
        }
        let flow = found?;
        let ln = own.ln();
        let relative = Estimate::new(
            ln,
            flow.u_independent / flow.value,
            flow.u_common / flow.value,
        );
        (ln.is_finite() && relative.u_combined().is_finite()).then_some(relative)
    }
}

/// Flow of a measured curve with its doubt as if known, so that few points count as little as they
/// should; beyond the curve's range the difference of its two forms is added.
fn flow_with_forms(curve: &NozzleCurve, pressure_pa: f64) -> Estimate {
    let flow = as_known(curve.flow_at(pressure_pa));
    if curve.range_pa.contains(pressure_pa) {
        return flow;
    }
    let form = |form| curve.flow_by(form, pressure_pa);
    let (power, two_term) = (form(CurveForm::PowerLaw), form(CurveForm::TwoTerm));
    let apart = power
        .zip(two_term)
        .map_or(0.0, |(a, b)| (a.value - b.value).abs());
    Estimate {
        u_independent: flow.u_independent.hypot(apart),
        ..flow
    }
}

/// Weighted sums over the tips for value and shear index.
#[derive(Default)]
struct Sums {
    w: f64,
    g: f64,
    y: f64,
    gg: f64,
    gy: f64,
    yy: f64,
    common: f64,
}

#[derive(Default)]
struct Fit {
    value: f64,
    u_value: f64,
    u_common: f64,
    step: f64,
}

impl Sums {
    fn add(&mut self, here: Estimate, variance: f64, slope: f64) {
        let w = 1.0 / variance;
        self.w += w;
        self.g += w * slope;
        self.y += w * here.value;
        self.gg += w * slope * slope;
        self.gy += w * slope * here.value;
        self.yy += w * here.value * here.value;
        self.common += w * here.u_common;
    }

    /// Least squares for the value and a step of the shear index, which lies `from_prior` away from
    /// what was believed of it with standard uncertainty `u_prior`.
    fn solve(&self, from_prior: f64, u_prior: f64, n_tips: usize) -> Fit {
        let prior = u_prior.powi(-2);
        let information = self.gg - self.g * self.g / self.w + prior;
        let pull = self.gy - self.g * self.y / self.w + from_prior * prior;
        let step = -pull / information;
        let value = (self.y + self.g * step) / self.w;
        // Residuals after the step, and what is left of the belief.
        let chi_square = self.yy + 2.0 * step * self.gy + step * step * self.gg
            - self.w * value * value
            + (from_prior + step).powi(2) * prior;
        let freedom = n_tips as f64 - 1.0;
        let scale = if freedom > 0.0 {
            (chi_square / freedom).max(1.0)
        } else {
            1.0
        };
        let variance = 1.0 / self.w + (self.g / self.w).powi(2) / information;
        Fit {
            value,
            u_value: (variance * scale).sqrt(),
            // Calibration shifts every curve of a recording alike: no averaging.
            u_common: self.common / self.w,
            step,
        }
    }
}
