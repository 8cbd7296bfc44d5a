//! A plan for programs: see `report/PLAN_JSON.md`.

use serde::Serialize;

use super::Planned;
use super::words::advice_words;
use crate::analysis::answer::Answer;
use crate::analysis::plan::outlook::{Closes, Outlook, TailFree};
use crate::analysis::plan::{Change, PlanReason};
use crate::analysis::verdict::{Advice, VerdictKind};
use crate::estimate::bracketed::Bracketed;
use crate::pipeline::plan_box::{BoxPlan, RatingOf, TipPlan, TipState};
use crate::pipeline::plan_job::{JobError, JobPlan, JobQuestion};
use crate::report::cautions::beside_advice;
use crate::report::json::{Value, finite, finite_or_none};

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    schema_version: u32,
    recordings: Vec<String>,
    rig: Option<String>,
    is_simulated: bool,
    is_meter_nominal: bool,
    material: String,
    thinner_ratio: Option<f64>,
    max_thinner_ratio: Option<f64>,
    material_low_k: Option<f64>,
    material_high_k: Option<f64>,
    rated_pa: Option<f64>,
    rating_of: Option<&'static str>,
    supply: Option<Supply>,
    area_m2: Option<f64>,
    tips: Vec<Tip>,
}

#[derive(Serialize)]
struct Supply {
    recording: String,
    dial: String,
    trouble: Option<VerdictKind>,
}

#[derive(Serialize)]
struct Tip {
    tip: String,
    orifice_diameter_m: Option<f64>,
    fan_width_m: Option<f64>,
    measured_in: Option<String>,
    state: Option<&'static str>,
    from_tips: Vec<String>,
    graded_with: Option<String>,
    refusal: Option<String>,
    answer: Option<Answer>,
    reason: Option<PlanReason>,
    closes: Option<Closes>,
    held: Option<Held>,
    tail_free: Option<Need>,
    set_pa: Option<f64>,
    flow_at_set_m3_per_s: Option<Value>,
    changes: Vec<Change>,
    advice: Vec<Advice>,
    advice_against: Vec<Advice>,
    cautions: Vec<&'static str>,
    job: Option<Job>,
    job_refusal: Option<String>,
}

#[derive(Serialize)]
struct Held {
    low_pa: Option<f64>,
    high_pa: Option<f64>,
    pressure_pa: Option<Span>,
    flow_m3_per_s: Option<Span>,
    is_carried: bool,
}

#[derive(Serialize)]
struct Span {
    value: Option<f64>,
    low_95: Option<f64>,
    high_95: Option<f64>,
}

impl From<&Bracketed> for Span {
    fn from(b: &Bracketed) -> Self {
        Self {
            value: finite(b.value),
            low_95: finite(b.interval_95.low),
            high_95: finite(b.interval_95.high),
        }
    }
}

#[derive(Serialize)]
struct Need {
    known: &'static str,
    pressure_pa: Option<Value>,
    low_pa: Option<f64>,
    high_pa: Option<f64>,
}

#[derive(Serialize)]
struct Job {
    wet_film_m: Option<f64>,
    dry_film_m: Option<f64>,
    mixed_m3: Value,
    coating_m3: Value,
    thinner_m3: Value,
    spraying_s: Value,
    coats: Value,
    coverage_m2_per_m3: Value,
    charges: Option<Span>,
    charges_refusal: Option<String>,
}

/// The plan as one JSON object.
///
/// *Errors*: what the JSON writer says; it does not depend on what a user wrote.
pub fn json(planned: &Planned) -> serde_json::Result<String> {
    let plan = planned.plan;
    let document = Document {
        schema: "tipcurve-plan",
        schema_version: 1,
        recordings: plan.names.clone(),
        rig: plan.rig.clone(),
        is_simulated: plan.is_simulated,
        is_meter_nominal: plan.is_nominal,
        material: plan.material.clone(),
        thinner_ratio: finite(plan.thinner_ratio),
        max_thinner_ratio: finite_or_none(plan.max_thinner_ratio),
        material_low_k: plan.material_k.map(|k| k.low),
        material_high_k: plan.material_k.map(|k| k.high),
        rated_pa: finite_or_none(plan.rated_pa),
        rating_of: plan.rating_of.map(|of| match of {
            RatingOf::Rig => "rig",
            RatingOf::Coating => "coating",
        }),
        supply: plan.supply.as_ref().map(|(source, dial)| Supply {
            recording: plan.names[*source].clone(),
            dial: dial.clone(),
            trouble: plan.supply_trouble,
        }),
        area_m2: planned.job.map(|(q, _)| q.area_m2),
        tips: plan
            .tips
            .iter()
            .enumerate()
            .map(|(i, tip)| mirror(plan, tip, planned.job.map(|(q, jobs)| (q, &jobs[i]))))
            .collect(),
    };
    serde_json::to_string(&document)
}

fn mirror(
    plan: &BoxPlan,
    tip: &TipPlan,
    job: Option<(&JobQuestion, &Result<JobPlan, JobError>)>,
) -> Tip {
    let o = tip.outlook.as_ref().ok();
    let (advice, advice_against) = o.map_or((Vec::new(), Vec::new()), |o| advice_words(plan, o));
    let mut cautions: Vec<&'static str> = Vec::new();
    let of_pump = match plan.supply_trouble {
        Some(VerdictKind::RestrictionInlet) => Some(Advice::CleanInletStrainer),
        Some(VerdictKind::WeakBattery) => Some(Advice::ChargeBattery),
        _ => None,
    };
    for caution in of_pump
        .iter()
        .chain(&advice)
        .filter_map(|a| beside_advice(*a))
    {
        if !cautions.contains(&caution.text()) {
            cautions.push(caution.text());
        }
    }
    Tip {
        tip: tip.tip.code.clone(),
        orifice_diameter_m: finite_or_none(tip.tip.orifice_diameter_m),
        fan_width_m: finite_or_none(tip.tip.fan_width_m),
        measured_in: tip.measured.map(|m| plan.names[m.source].clone()),
        state: tip.measured.map(|m| match m.state {
            TipState::Sound => "sound",
            TipState::BlockedLater => "blocked_later",
            TipState::Blocked => "blocked",
            TipState::Worn => "worn",
        }),
        from_tips: tip.from_tips.clone(),
        graded_with: tip.graded_with.clone(),
        refusal: tip.outlook.as_ref().err().map(ToString::to_string),
        answer: o.map(|o| o.answer),
        reason: o.map(|o| o.reason),
        closes: o.map(|o| o.closes),
        held: o.map(held),
        tail_free: o.map(|o| need(&o.tail_free)),
        set_pa: o.and_then(|o| finite_or_none(o.set_pa)),
        flow_at_set_m3_per_s: o.and_then(|o| o.flow_at_set_m3_per_s.as_ref().map(Value::from)),
        changes: o.map_or(Vec::new(), |o| o.changes.clone()),
        advice,
        advice_against,
        cautions,
        job: job.and_then(|(_, found)| found.as_ref().ok().map(mirror_job)),
        job_refusal: job.and_then(|(_, found)| found.as_ref().err().map(ToString::to_string)),
    }
}

fn held(o: &Outlook) -> Held {
    Held {
        low_pa: finite_or_none(o.held.low_pa),
        high_pa: finite(o.held.high_pa),
        pressure_pa: o.held.best.as_ref().map(|b| Span::from(&b.pressure_pa)),
        flow_m3_per_s: o.held.best.as_ref().map(|b| Span::from(&b.flow_m3_per_s)),
        is_carried: o.held.is_carried,
    }
}

fn need(t: &TailFree) -> Need {
    let (known, pressure_pa) = match t {
        TailFree::Bracketed { pressure_pa } => ("bracketed", Some(Value::from(pressure_pa))),
        TailFree::AtMost { .. } => ("at_most", None),
        TailFree::Above { .. } => ("above", None),
        TailFree::NotGraded => ("not_graded", None),
    };
    let interval = t.interval();
    Need {
        known,
        pressure_pa,
        low_pa: interval
            .map(|i| i.low)
            .filter(|p| p.is_finite() && *p > 0.0),
        high_pa: interval.map(|i| i.high).filter(|p| p.is_finite()),
    }
}

fn mirror_job(plan: &JobPlan) -> Job {
    let job = &plan.job;
    let charges = plan.charges.as_ref();
    Job {
        wet_film_m: finite(plan.wet_film_m),
        dry_film_m: finite_or_none(plan.dry_film_m),
        mixed_m3: Value::from(&job.mixed_m3),
        coating_m3: Value::from(&job.coating_m3),
        thinner_m3: Value::from(&job.thinner_m3),
        spraying_s: Value::from(&job.spraying_s),
        coats: Value::from(&job.coats),
        coverage_m2_per_m3: Value::from(&job.coverage_m2_per_m3),
        charges: charges.and_then(|c| c.as_ref().ok().map(Span::from)),
        charges_refusal: charges.and_then(|c| c.as_ref().err().map(ToString::to_string)),
    }
}
