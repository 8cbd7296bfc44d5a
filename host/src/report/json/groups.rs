//! Groups with curve, grades, window and card, and the supply curves.

use serde::Serialize;

use super::{Range, Value, finite, finite_or_none};
use crate::analysis::nozzle_curve::{CurveForm, CurvePoint, CurveRefusal, NozzleCurve};
use crate::analysis::supply_curve::{
    Crossing as CrossingFinding, SupplyCurve as SupplyFinding, SupplyForm, SupplyRegime,
};
use crate::analysis::tail_threshold::TailThreshold;
use crate::analysis::window::{UpperLimit, Window as WindowFinding};
use crate::findings::{Findings, GroupFinding};
use crate::report::Options;
use crate::report::card_data::CardData;

#[derive(Debug, Serialize)]
pub(crate) struct Group {
    number: usize,
    tip: String,
    tip_family: Option<String>,
    material: String,
    thinner_ratio: Option<f64>,
    material_k: Option<f64>,
    phase: u32,
    burst_indices: Vec<usize>,
    n_bursts: usize,
    orifice_diameter_m: Option<f64>,
    fan_width_m: Option<f64>,
    reference_distance_m: Option<f64>,
    used_s: Option<f64>,
    curve: Option<Curve>,
    curve_refusal: Option<Refusal>,
    grades: Vec<Grade>,
    tail_threshold: Threshold,
    crossing: Option<Crossing>,
    window: Option<Window>,
    flow_at_recommended_m3_per_s: Option<Value>,
    equivalent_orifice_m: Option<Value>,
    orifice_ratio: Option<Value>,
    baseline_group_index: Option<usize>,
    flow_ratio_to_baseline: Option<Value>,
    flow_ratio_by_temperature: Option<Value>,
    card: Option<Card>,
}

#[derive(Debug, Serialize)]
struct Curve {
    preferred: CurveForm,
    p_ref_pa: Option<f64>,
    q_ref_m3_per_s: Value,
    n: Value,
    burst_scatter_ratio: Option<f64>,
    reduced_chi_square: Option<f64>,
    two_term: Option<TwoTerm>,
    delta_aicc: Option<f64>,
    forms_disagree: bool,
    lack_of_fit: Option<LackOfFit>,
    range_pa: Range,
    distinct_pa: Vec<Option<f64>>,
    n_points: usize,
    points: Vec<Point>,
    outliers: Vec<Point>,
}

#[derive(Debug, Serialize)]
struct TwoTerm {
    a_pa_s_per_m3: Value,
    b_pa_s2_per_m6: Value,
    is_at_bound: bool,
}

#[derive(Debug, Serialize)]
struct LackOfFit {
    f: Option<f64>,
    dof_lack: Option<f64>,
    dof_pure: Option<f64>,
    p_value: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Point {
    burst_index: usize,
    burst_number: usize,
    pressure_pa: Value,
    flow_m3_per_s: Value,
}

/// Why there is no curve: `reason` is the word, its numbers stand beside it.
/// Why a group has no curve.
#[derive(Debug, Default, Serialize)]
pub(crate) struct Refusal {
    reason: &'static str,
    n_distinct: Option<usize>,
    distinct_pa: Option<Vec<Option<f64>>>,
    needed_pressures: Option<usize>,
    pressure_ratio: Option<f64>,
    needed_ratio: Option<f64>,
    suggest_pa: Option<f64>,
    low_k: Option<f64>,
    high_k: Option<f64>,
    scatter_ratio: Option<f64>,
    n: Option<f64>,
    least_n: Option<f64>,
    greatest_n: Option<f64>,
    burst_number: Option<usize>,
    what: Option<String>,
}

impl Refusal {
    /// Mirrors a refusal.
    pub(crate) fn new(refusal: &CurveRefusal) -> Self {
        let list = |pa: &[f64]| Some(pa.iter().map(|p| finite(*p)).collect());
        match refusal {
            CurveRefusal::NoPoints => Self {
                reason: "no_points",
                ..Self::default()
            },
            CurveRefusal::TooFewPressures {
                distinct_pa,
                needed,
                suggest_pa,
            } => Self {
                reason: "too_few_pressures",
                n_distinct: Some(distinct_pa.len()),
                distinct_pa: list(distinct_pa),
                needed_pressures: Some(*needed),
                suggest_pa: finite(*suggest_pa),
                ..Self::default()
            },
            CurveRefusal::NarrowRange {
                ratio,
                needed,
                suggest_pa,
            } => Self {
                reason: "narrow_range",
                pressure_ratio: finite(*ratio),
                needed_ratio: finite(*needed),
                suggest_pa: finite(*suggest_pa),
                ..Self::default()
            },
            CurveRefusal::TemperatureChanged { low_k, high_k } => Self {
                reason: "temperature_changed",
                low_k: finite(*low_k),
                high_k: finite(*high_k),
                ..Self::default()
            },
            CurveRefusal::Inconsistent { scatter_ratio } => Self {
                reason: "inconsistent",
                scatter_ratio: finite(*scatter_ratio),
                ..Self::default()
            },
            CurveRefusal::ImplausibleExponent { n, low, high } => Self {
                reason: "implausible_exponent",
                n: finite(*n),
                least_n: finite(*low),
                greatest_n: finite(*high),
                ..Self::default()
            },
            CurveRefusal::NotPositive { burst_index } => Self {
                reason: "not_positive",
                burst_number: Some(burst_index + 1),
                ..Self::default()
            },
            CurveRefusal::NotFitted { what } => Self {
                reason: "not_fitted",
                what: Some(what.clone()),
                ..Self::default()
            },
        }
    }
}

#[derive(Debug, Serialize)]
struct Grade {
    burst_index: usize,
    pressure_pa: Option<f64>,
    tails: u8,
}

/// The lowest tail-free pressure: `kind` is `between`, `above`, `below` or `no_grades`.
#[derive(Debug, Default, Serialize)]
struct Threshold {
    kind: &'static str,
    n_grades: usize,
    estimate_pa: Option<f64>,
    u_pa: Option<f64>,
    low_95_pa: Option<f64>,
    high_95_pa: Option<f64>,
    highest_with_tails_pa: Option<f64>,
    lowest_without_tails_pa: Option<f64>,
    overlap: Option<bool>,
}

impl Threshold {
    fn new(threshold: &TailThreshold, n_grades: usize) -> Self {
        match threshold {
            TailThreshold::Between {
                estimate_pa,
                u_pa,
                interval_95_pa,
                highest_with_tails_pa,
                lowest_without_pa,
                overlap,
            } => Self {
                kind: "between",
                n_grades,
                estimate_pa: finite(*estimate_pa),
                u_pa: finite(*u_pa),
                low_95_pa: finite(interval_95_pa.low),
                high_95_pa: finite(interval_95_pa.high),
                highest_with_tails_pa: finite(*highest_with_tails_pa),
                lowest_without_tails_pa: finite(*lowest_without_pa),
                overlap: Some(*overlap),
            },
            TailThreshold::Above {
                highest_with_tails_pa,
                ..
            } => Self {
                kind: "above",
                n_grades,
                highest_with_tails_pa: finite(*highest_with_tails_pa),
                ..Self::default()
            },
            TailThreshold::Below {
                lowest_without_pa, ..
            } => Self {
                kind: "below",
                n_grades,
                lowest_without_tails_pa: finite(*lowest_without_pa),
                ..Self::default()
            },
            TailThreshold::NoGrades => Self {
                kind: "no_grades",
                ..Self::default()
            },
        }
    }
}

#[derive(Debug, Serialize)]
struct Crossing {
    pressure_pa: Value,
    low_95_pa: Option<f64>,
    high_95_pa: Option<f64>,
    flow_m3_per_s: Option<f64>,
    regime: SupplyRegime,
    is_measured: bool,
}

impl Crossing {
    fn new(c: &CrossingFinding) -> Self {
        Self {
            pressure_pa: Value::from(&c.pressure_pa),
            low_95_pa: finite(c.interval_95_pa.low),
            high_95_pa: finite(c.interval_95_pa.high),
            flow_m3_per_s: finite(c.flow_m3_per_s),
            regime: c.regime,
            is_measured: c.is_measured,
        }
    }
}

#[derive(Debug, Serialize)]
struct Window {
    lower_pa: Option<f64>,
    lower_interval_95_pa: Option<Range>,
    upper_pa: Option<f64>,
    upper_interval_95_pa: Range,
    upper_limit: UpperLimit,
    open_probability: Option<f64>,
    recommended_pa: Option<f64>,
    lowest_run_pa: Option<f64>,
}

impl Window {
    fn new(w: &WindowFinding) -> Self {
        Self {
            lower_pa: finite_or_none(w.lower_pa),
            lower_interval_95_pa: w.lower_interval_pa.as_ref().map(Range::from),
            upper_pa: finite(w.upper_pa),
            upper_interval_95_pa: Range::from(&w.upper_interval_pa),
            upper_limit: w.upper_limit,
            open_probability: finite(w.open_probability),
            recommended_pa: finite_or_none(w.recommended_pa),
            lowest_run_pa: finite_or_none(w.lowest_run_pa),
        }
    }
}

/// What stands on the setting card beyond the window.
#[derive(Debug, Serialize)]
struct Card {
    file: String,
    dial: Option<String>,
    margin_pa: Option<f64>,
    material_low_k: Option<f64>,
    material_high_k: Option<f64>,
    wet_film_m: Option<Value>,
    dry_film_m: Option<Value>,
}

#[derive(Debug, Serialize)]
pub(crate) struct SupplyCurve {
    dial: String,
    is_full: bool,
    form: &'static str,
    p_max_pa: Option<Value>,
    power_w: Option<Value>,
    q_max_m3_per_s: Option<Value>,
    power_per_v_ratio: Option<Value>,
    step_flow_m3_per_s: Option<Vec<Option<f64>>>,
    step_pressure_pa: Option<Vec<Option<f64>>>,
    n_points: usize,
    points: Vec<SupplyPoint>,
}

#[derive(Debug, Serialize)]
struct SupplyPoint {
    burst_index: usize,
    burst_number: usize,
    tip: String,
    flow_m3_per_s: Value,
    pressure_pa: Value,
    stalled_pa: Option<f64>,
    supply_v: Option<f64>,
    t_s: Option<f64>,
}

fn mirror_points(points: &[CurvePoint]) -> Vec<Point> {
    points
        .iter()
        .map(|p| Point {
            burst_index: p.burst_index,
            burst_number: p.burst_index + 1,
            pressure_pa: Value::from(&p.pressure_pa),
            flow_m3_per_s: Value::from(&p.flow_m3_per_s),
        })
        .collect()
}

fn mirror_curve(c: &NozzleCurve) -> Curve {
    let law = &c.power_law;
    Curve {
        preferred: c.preferred,
        p_ref_pa: finite(law.p_ref_pa),
        q_ref_m3_per_s: Value::from(&law.q_ref_m3_per_s),
        n: Value::from(&law.n),
        burst_scatter_ratio: finite(law.burst_scatter_ratio),
        reduced_chi_square: finite(law.reduced_chi_square),
        two_term: c.two_term.as_ref().map(|t| TwoTerm {
            a_pa_s_per_m3: Value::from(&t.a_pa_s_per_m3),
            b_pa_s2_per_m6: Value::from(&t.b_pa_s2_per_m6),
            is_at_bound: t.is_at_bound,
        }),
        delta_aicc: finite_or_none(c.delta_aicc),
        forms_disagree: c.forms_disagree,
        lack_of_fit: c.lack_of_fit.map(|l| LackOfFit {
            f: finite(l.f),
            dof_lack: finite(l.dof.0),
            dof_pure: finite(l.dof.1),
            p_value: finite(l.p_value),
        }),
        range_pa: Range::from(&c.range_pa),
        distinct_pa: c.distinct_pa.iter().map(|p| finite(*p)).collect(),
        n_points: c.points.len(),
        points: mirror_points(&c.points),
        outliers: mirror_points(&c.outliers),
    }
}

/// Groups in the order of the findings.
pub(crate) fn mirror(f: &Findings, options: &Options) -> Vec<Group> {
    f.groups
        .iter()
        .enumerate()
        .map(|(i, g)| mirror_one(f, i, g, options))
        .collect()
}

fn mirror_one(f: &Findings, index: usize, g: &GroupFinding, options: &Options) -> Group {
    let tip = g.tip.as_ref();
    let recommended_pa = g.window.and_then(|w| w.recommended_pa);
    Group {
        number: index + 1,
        tip: g.group.tip.clone(),
        tip_family: g.group.tip_family.clone(),
        material: g.group.material.clone(),
        thinner_ratio: finite(g.group.thinner_ratio),
        material_k: finite_or_none(g.group.material_k),
        phase: g.group.phase,
        burst_indices: g.group.burst_indices.clone(),
        n_bursts: g.group.burst_indices.len(),
        orifice_diameter_m: finite_or_none(tip.and_then(|t| t.orifice_diameter_m)),
        fan_width_m: finite_or_none(tip.and_then(|t| t.fan_width_m)),
        reference_distance_m: finite_or_none(tip.and_then(|t| t.reference_distance_m)),
        used_s: finite_or_none(tip.and_then(|t| t.used_s)),
        curve: g.curve.as_ref().ok().map(mirror_curve),
        curve_refusal: g.curve.as_ref().err().map(Refusal::new),
        grades: g
            .grades
            .iter()
            .map(|grade| Grade {
                burst_index: grade.burst_index,
                pressure_pa: finite(grade.pressure_pa),
                tails: grade.tails,
            })
            .collect(),
        tail_threshold: Threshold::new(&g.tail_threshold, g.grades.len()),
        crossing: g.crossing.as_ref().map(Crossing::new),
        window: g.window.as_ref().map(Window::new),
        flow_at_recommended_m3_per_s: recommended_pa
            .zip(g.curve.as_ref().ok())
            .map(|(pa, curve)| Value::from(&curve.flow_at(pa))),
        equivalent_orifice_m: g.equivalent_orifice_m.as_ref().map(Value::from),
        orifice_ratio: g.orifice_ratio.as_ref().map(Value::from),
        baseline_group_index: g.baseline_group,
        flow_ratio_to_baseline: g.flow_ratio_to_baseline.as_ref().map(Value::from),
        flow_ratio_by_temperature: g.flow_ratio_by_temperature.as_ref().map(Value::from),
        card: CardData::new(f, index, options).map(|card| Card {
            file: card.file_name(&g.group.tip),
            dial: card.dial.clone(),
            margin_pa: finite_or_none(card.margin_pa),
            material_low_k: finite_or_none(card.material_k.map(|i| i.low)),
            material_high_k: finite_or_none(card.material_k.map(|i| i.high)),
            wet_film_m: card.wet_film_m.as_ref().map(Value::from),
            dry_film_m: card.dry_film_m.as_ref().map(Value::from),
        }),
    }
}

/// Supply curves in the order of the findings, full dial first.
pub(crate) fn mirror_supply(f: &Findings) -> Vec<SupplyCurve> {
    f.supply.iter().map(mirror_one_supply).collect()
}

fn mirror_one_supply(s: &SupplyFinding) -> SupplyCurve {
    let mut out = SupplyCurve {
        dial: s.dial.clone(),
        is_full: s.is_full,
        form: "shaped",
        p_max_pa: None,
        power_w: None,
        q_max_m3_per_s: None,
        power_per_v_ratio: None,
        step_flow_m3_per_s: None,
        step_pressure_pa: None,
        n_points: s.points.len(),
        points: s
            .points
            .iter()
            .map(|p| SupplyPoint {
                burst_index: p.burst_index,
                burst_number: p.burst_index + 1,
                tip: p.tip.clone(),
                flow_m3_per_s: Value::from(&p.flow_m3_per_s),
                pressure_pa: Value::from(&p.pressure_pa),
                stalled_pa: finite_or_none(p.stalled_pa),
                supply_v: finite_or_none(p.supply_v),
                t_s: finite(p.t_s),
            })
            .collect(),
    };
    match &s.form {
        SupplyForm::Shaped {
            p_max_pa,
            power_w,
            q_max_m3_per_s,
            power_per_v_ratio,
        } => {
            out.p_max_pa = Some(Value::from(p_max_pa));
            out.power_w = power_w.as_ref().map(Value::from);
            out.q_max_m3_per_s = q_max_m3_per_s.as_ref().map(Value::from);
            out.power_per_v_ratio = power_per_v_ratio.as_ref().map(Value::from);
        }
        SupplyForm::Step {
            flow_m3_per_s,
            pressure_pa,
        } => {
            out.form = "step";
            out.step_flow_m3_per_s = Some(flow_m3_per_s.iter().map(|v| finite(*v)).collect());
            out.step_pressure_pa = Some(pressure_pa.iter().map(|v| finite(*v)).collect());
        }
    }
    out
}
