//! What a fitted curve says: flow at a pressure, pressure for a flow, and with what uncertainty.

use super::{CurveForm, NozzleCurve, PowerLaw, TwoTerm};
use crate::analysis::fit::power_law::Covariance2;
use crate::estimate::Estimate;

/// Logarithm of a flow with relative variances, and the curve's local exponent there.
struct LogFlow {
    ln_flow: f64,
    var_independent: f64,
    var_common: f64,
    slope: f64,
    dof: f64,
}

impl NozzleCurve {
    /// Flow at a pressure by the preferred form, with both parts of its uncertainty: the curve itself, not
    /// a further burst.
    ///
    /// *Units*: Pa in, m3/s out. A pressure that is not positive and finite gives zero flow with
    /// zero uncertainty. Outside [`NozzleCurve::range_pa`] the form itself is an assumption; ask
    /// [`NozzleCurve::is_extrapolated`].
    #[must_use]
    pub fn flow_at(&self, pressure_pa: f64) -> Estimate {
        self.flow_by(self.preferred, pressure_pa)
            .or_else(|| self.flow_by(CurveForm::PowerLaw, pressure_pa))
            .unwrap_or(Estimate::exact(0.0))
    }

    /// Flow at a pressure by a named form; `None` when that form was not fitted or the pressure is not
    /// positive and finite.
    #[must_use]
    pub fn flow_by(&self, form: CurveForm, pressure_pa: f64) -> Option<Estimate> {
        let at = self.log_flow(form, pressure_pa)?;
        let flow = at.ln_flow.exp();
        let u = |variance: f64| flow * variance.sqrt();
        let out = Estimate::new(flow, u(at.var_independent), u(at.var_common)).with_dof(at.dof);
        (out.value.is_finite() && out.u_combined().is_finite()).then_some(out)
    }

    /// Flow that one more burst at a pressure would show: the curve's uncertainty and a burst's own scatter.
    ///
    /// *Units*, bad input: as [`NozzleCurve::flow_at`].
    #[must_use]
    pub fn burst_flow_at(&self, pressure_pa: f64) -> Estimate {
        let curve = self.flow_at(pressure_pa);
        let own = curve.value * self.power_law.burst_scatter_ratio;
        Estimate {
            u_independent: curve.u_independent.hypot(own),
            ..curve
        }
    }

    /// Pressure at which the curve gives a flow, by the preferred form; `None` for a flow that is not
    /// positive and finite.
    ///
    /// *Units*: m3/s in, Pa out. The curve's relative uncertainty there is divided by its local exponent.
    #[must_use]
    pub fn pressure_for_flow(&self, flow_m3_per_s: f64) -> Option<Estimate> {
        if !(flow_m3_per_s.is_finite() && flow_m3_per_s > 0.0) {
            return None;
        }
        let form = match self.two_term {
            Some(_) => self.preferred,
            None => CurveForm::PowerLaw,
        };
        let pressure_pa = match (form, &self.two_term) {
            (CurveForm::TwoTerm, Some(two)) => two.pressure_for(flow_m3_per_s),
            _ => self.power_law.pressure_for(flow_m3_per_s)?,
        };
        let at = self.log_flow(form, pressure_pa)?;
        let u = |variance: f64| pressure_pa * variance.sqrt() / at.slope;
        let out =
            Estimate::new(pressure_pa, u(at.var_independent), u(at.var_common)).with_dof(at.dof);
        out.u_combined().is_finite().then_some(out)
    }

    /// Local exponent `d ln q / d ln p` of the preferred form.
    #[must_use]
    pub fn exponent_at(&self, pressure_pa: f64) -> Option<f64> {
        self.log_flow(self.preferred, pressure_pa)
            .map(|at| at.slope)
    }

    /// True outside the measured pressures, where the form is an assumption.
    #[must_use]
    pub fn is_extrapolated(&self, pressure_pa: f64) -> bool {
        !self.range_pa.contains(pressure_pa)
    }

    fn log_flow(&self, form: CurveForm, pressure_pa: f64) -> Option<LogFlow> {
        if !(pressure_pa.is_finite() && pressure_pa > 0.0) {
            return None;
        }
        match form {
            CurveForm::PowerLaw => Some(self.power_law.log_flow(pressure_pa)),
            CurveForm::TwoTerm => Some(self.two_term.as_ref()?.log_flow(pressure_pa)),
        }
    }
}

impl PowerLaw {
    fn log_flow(&self, pressure_pa: f64) -> LogFlow {
        let x = (pressure_pa / self.p_ref_pa).ln();
        let q = &self.q_ref_m3_per_s;
        let independent = Covariance2 {
            var_0: (q.u_independent / q.value).powi(2),
            var_1: self.n.u_independent.powi(2),
            cov: self.cov_ln_q_ref_n,
        };
        let common = Covariance2 {
            var_0: (q.u_common / q.value).powi(2),
            var_1: self.n.u_common.powi(2),
            cov: self.cov_ln_q_ref_n_common,
        };
        LogFlow {
            ln_flow: q.value.ln() + self.n.value * x,
            var_independent: independent.variance_along(1.0, x),
            var_common: common.variance_along(1.0, x),
            slope: self.n.value,
            dof: q.dof,
        }
    }

    fn pressure_for(&self, flow_m3_per_s: f64) -> Option<f64> {
        let n = self.n.value;
        let p = self.p_ref_pa * (flow_m3_per_s / self.q_ref_m3_per_s.value).powf(1.0 / n);
        (n > 0.0 && p.is_finite() && p > 0.0).then_some(p)
    }
}

impl TwoTerm {
    fn pressure_for(&self, flow_m3_per_s: f64) -> f64 {
        let (a, b) = (self.a_pa_s_per_m3.value, self.b_pa_s2_per_m6.value);
        flow_m3_per_s * (a + b * flow_m3_per_s)
    }

    /// The positive root, in the form that does not cancel when the linear part dominates.
    fn flow_for(&self, pressure_pa: f64) -> f64 {
        let (a, b) = (self.a_pa_s_per_m3.value, self.b_pa_s2_per_m6.value);
        2.0 * pressure_pa / (a + (a * a + 4.0 * b * pressure_pa).sqrt())
    }

    fn log_flow(&self, pressure_pa: f64) -> LogFlow {
        let flow = self.flow_for(pressure_pa);
        let (a, b) = (&self.a_pa_s_per_m3, &self.b_pa_s2_per_m6);
        let steep = a.value + 2.0 * b.value * flow;
        // d ln q / d a and d ln q / d b at constant pressure.
        let (by_a, by_b) = (-1.0 / steep, -flow / steep);
        let independent = Covariance2 {
            var_0: a.u_independent.powi(2),
            var_1: b.u_independent.powi(2),
            cov: self.cov_a_b,
        };
        let common = Covariance2 {
            var_0: a.u_common.powi(2),
            var_1: b.u_common.powi(2),
            cov: self.cov_a_b_common,
        };
        LogFlow {
            ln_flow: flow.ln(),
            var_independent: independent.variance_along(by_a, by_b),
            var_common: common.variance_along(by_a, by_b),
            slope: (a.value + b.value * flow) / steep,
            dof: a.dof,
        }
    }
}
