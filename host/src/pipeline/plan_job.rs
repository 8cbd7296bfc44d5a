//! A plan's litres, time and battery charges for an area: gathers what film and energy ask for.

use thiserror::Error;

use crate::analysis::energy::{
    Battery, Duty, EnergyError, USABLE_UNKNOWN, charges_for_volume, electric_power, hydraulic_power,
};
use crate::analysis::film::{
    FilmError, Job, Pass, TRANSFER_UNKNOWN, dry_film_m, plan_area, wet_film_for_dry_m,
};
use crate::analysis::fit::line::{Scatter, fit_line};
use crate::analysis::plan::outlook::CARRY_RATIO;
use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;
use crate::findings::Findings;
use crate::recording::settings::{Material, Tip};

use super::plan_box::{BoxPlan, TipPlan};

/// Relative standard uncertainty of a battery's stated charge and of its mean voltage against the nominal one
/// (common practice, no source).
const U_BATTERY_RATIO: f64 = 0.05;
/// Relative standard uncertainty of a hand's speed from stroke to stroke (common practice, no source).
const U_HAND_SPEED_RATIO: f64 = 0.1;
/// Time beside a burst that still belongs to its load, s.
const BESIDE_BURST_S: f64 = 1.0;

/// The film that is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WantedFilm {
    /// Wet, m.
    Wet(f64),
    /// Dry, m.
    Dry(f64),
    /// Area that a volume covers on paper, without loss, m2/m3.
    Coverage(f64),
    /// What one coat at the hand's speed and overlap gives.
    OneCoat,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JobQuestion {
    /// Area, m2.
    pub area_m2: f64,
    /// Film.
    pub film: WantedFilm,
    /// Speed of the hand, m/s.
    pub hand_speed_m_per_s: f64,
    /// Overlap of neighbouring passes, 0 to 0.9.
    pub overlap_ratio: f64,
    /// Share of the working time with the trigger open, above 0 and up to 1.
    pub spraying_ratio: f64,
}

/// Why a number of the job is not given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum JobError {
    /// No pressure to set, hence no flow.
    #[error(
        "no pressure to set is known for this tip, so that flow, time and charges are not known"
    )]
    NoSetting,
    /// The same, but the film asked for gives the volume.
    #[error(
        "{litres:.1} \u{b1} {u_litres:.1} L of mixed coating, of which 55 to 85 % reaches the surface; no pressure \
         to set is known for this tip, so that flow, time and charges are not known"
    )]
    OnlyVolume {
        /// Mixed coating, L.
        litres: f64,
        /// Its 95 % interval, half, L.
        u_litres: f64,
    },
    /// No fan width.
    #[error("the fan width of tip {tip} is not known; add fan_width_mm to session.toml")]
    NoFanWidth {
        /// Its code.
        tip: String,
    },
    /// No solids.
    #[error(
        "the volume solids of {material} are not known, so that a dry film is no litres; add volume_solids_pct to \
         session.toml or give the wet film with --film-um"
    )]
    NoSolids {
        /// The coating.
        material: String,
    },
    /// Film arithmetic.
    #[error(transparent)]
    Film(#[from] FilmError),
    /// Energy arithmetic.
    #[error(transparent)]
    Energy(#[from] EnergyError),
    /// The battery's charge is not known.
    #[error("the charge of the battery is not known; add battery_v and battery_ah to session.toml")]
    NoBattery,
    /// The current was not logged.
    #[error(
        "supply voltage and current were logged in {n_bursts} bursts, three different loads are needed; log both"
    )]
    NotLogged {
        /// Bursts that have both.
        n_bursts: usize,
    },
    /// The planned load is beyond the measured ones.
    #[error(
        "{asked_w:.0} W at the tip lie outside the {low_w:.0} to {high_w:.0} W that were measured; record one burst \
         at this load"
    )]
    OtherLoad {
        /// Planned hydraulic power.
        asked_w: f64,
        /// Least measured.
        low_w: f64,
        /// Most measured.
        high_w: f64,
    },
}

/// What an area takes with one tip.
#[derive(Debug, Clone, PartialEq)]
pub struct JobPlan {
    /// Wet film, m.
    pub wet_film_m: f64,
    /// Dry film of it, m; `None` where the solids are not known.
    pub dry_film_m: Option<f64>,
    /// Litres, time, coats.
    pub job: Job,
    /// Full charges; `None` for a corded rig.
    pub charges: Option<Result<Bracketed, JobError>>,
}

/// Litres, time and charges of a tip's plan.
///
/// *Errors*: [`JobError`]; a missing battery or current is in [`JobPlan::charges`].
pub fn plan_job(
    sources: &[&Findings],
    plan: &BoxPlan,
    tip: &TipPlan,
    question: &JobQuestion,
) -> Result<JobPlan, JobError> {
    let solids = material_of(sources, plan).and_then(|m| m.volume_solids_ratio);
    let outlook = tip.outlook.as_ref().ok();
    let known = outlook.and_then(|o| o.set_pa.zip(o.flow_at_set_m3_per_s));
    let Some((set_pa, flow)) = known else {
        return Err(only_volume(plan, tip, question, solids));
    };
    let pass = pass_of(&tip.tip, flow, question)?;
    let wet_film_m = wanted_wet(plan, question.film, &pass, solids)?;
    let job = plan_area(question.area_m2, wet_film_m, plan.thinner_ratio, &pass)?;
    let wet = Estimate::exact(wet_film_m);
    Ok(JobPlan {
        wet_film_m,
        dry_film_m: solids
            .and_then(|s| dry_film_m(wet, s, plan.thinner_ratio).ok())
            .map(|e| e.value),
        charges: charges(sources, (set_pa, flow), &job, question),
        job,
    })
}

/// The volume that a film over an area takes hangs on no flow: where no pressure to set is known, it is still.
fn only_volume(
    plan: &BoxPlan,
    tip: &TipPlan,
    question: &JobQuestion,
    solids: Option<f64>,
) -> JobError {
    if matches!(question.film, WantedFilm::OneCoat) {
        return JobError::NoSetting;
    }
    let found = || -> Result<JobError, JobError> {
        // Any flow will do: it cancels out of the volume, and nothing else of the job is used.
        let pass = pass_of(&tip.tip, Estimate::exact(1.0e-5), question)?;
        let wet_film_m = wanted_wet(plan, question.film, &pass, solids)?;
        let job = plan_area(question.area_m2, wet_film_m, plan.thinner_ratio, &pass)?;
        Ok(JobError::OnlyVolume {
            litres: job.mixed_m3.value * 1e3,
            u_litres: job.mixed_m3.expanded_95() * 1e3,
        })
    };
    found().unwrap_or_else(|error| error)
}

fn material_of<'a>(sources: &[&'a Findings], plan: &BoxPlan) -> Option<&'a Material> {
    let materials = sources.iter().rev().flat_map(|f| &f.settings.materials);
    materials
        .into_iter()
        .find(|m| m.name.eq_ignore_ascii_case(&plan.material))
}

fn pass_of(tip: &Tip, flow: Estimate, question: &JobQuestion) -> Result<Pass, JobError> {
    let fan_width_m = tip.fan_width_m.ok_or_else(|| JobError::NoFanWidth {
        tip: tip.code.clone(),
    })?;
    let speed = question.hand_speed_m_per_s;
    Ok(Pass {
        flow_m3_per_s: flow,
        transfer_ratio: TRANSFER_UNKNOWN,
        hand_speed_m_per_s: Estimate::new(speed, 0.0, U_HAND_SPEED_RATIO * speed),
        fan_width_m: Estimate::exact(fan_width_m),
        overlap_ratio: question.overlap_ratio,
    })
}

fn wanted_wet(
    plan: &BoxPlan,
    film: WantedFilm,
    pass: &Pass,
    solids: Option<f64>,
) -> Result<f64, JobError> {
    match film {
        WantedFilm::Wet(wet_m) => Ok(wet_m),
        WantedFilm::Coverage(m2_per_m3) => Ok(1.0 / m2_per_m3),
        WantedFilm::OneCoat => Ok(pass.wet_film_m()?.value),
        WantedFilm::Dry(dry_m) => {
            let solids = solids.ok_or_else(|| JobError::NoSolids {
                material: plan.material.clone(),
            })?;
            let wet = wet_film_for_dry_m(Estimate::exact(dry_m), solids, plan.thinner_ratio)?;
            Ok(wet.value)
        }
    }
}

/// Full charges for the job; `None` for a rig without a battery.
fn charges(
    sources: &[&Findings],
    (set_pa, flow): (f64, Estimate),
    job: &Job,
    question: &JobQuestion,
) -> Option<Result<Bracketed, JobError>> {
    let limits = sources.last()?.settings.limits;
    limits.battery_v?;
    let found = || -> Result<Bracketed, JobError> {
        let (volts, charge) = limits
            .battery_v
            .zip(limits.battery_a_s)
            .ok_or(JobError::NoBattery)?;
        let nominal = |x: f64| Estimate::new(x, 0.0, U_BATTERY_RATIO * x);
        let battery = Battery {
            charge_a_s: nominal(charge),
            mean_v: nominal(volts),
            usable_ratio: USABLE_UNKNOWN,
        };
        let duty = Duty {
            spraying_w: spraying_power(sources, set_pa, flow)?,
            stalled_w: stalled_power(sources),
            spraying_ratio: question.spraying_ratio,
        };
        Ok(charges_for_volume(job.mixed_m3, flow, &battery, &duty)?)
    };
    Some(found())
}

/// Electric power at the planned load: the line of electric against hydraulic power over the bursts, W.
fn spraying_power(
    sources: &[&Findings],
    set_pa: f64,
    flow: Estimate,
) -> Result<Estimate, JobError> {
    let loads: Vec<(f64, f64)> = sources
        .iter()
        .flat_map(|f| &f.bursts)
        .filter(|b| b.steady.exclusion.is_none())
        .filter_map(|b| {
            let s = &b.steady;
            let hydraulic = hydraulic_power(s.pressure_pa?, s.flow_m3_per_s?).ok()?;
            let electric =
                electric_power(Estimate::exact(s.supply_v?), Estimate::exact(s.supply_a?)).ok()?;
            Some((hydraulic.value, electric.value))
        })
        .collect();
    let asked_w = hydraulic_power(Estimate::exact(set_pa), flow)?.value;
    let (x, y): (Vec<f64>, Vec<f64>) = loads.into_iter().unzip();
    let low_w = x.iter().copied().fold(f64::INFINITY, f64::min);
    let high_w = x.iter().copied().fold(0.0, f64::max);
    let not_logged = JobError::NotLogged { n_bursts: x.len() };
    let line = fit_line(&x, &y, &vec![1.0; x.len()], asked_w, Scatter::FromResiduals)
        .map_err(|_| not_logged)?;
    if asked_w < low_w / CARRY_RATIO || asked_w > high_w * CARRY_RATIO {
        return Err(JobError::OtherLoad {
            asked_w,
            low_w,
            high_w,
        });
    }
    Ok(line.at(asked_w))
}

/// Mean electric power while no trigger is pulled, W; zero where it was not logged.
fn stalled_power(sources: &[&Findings]) -> Estimate {
    let mut watts = Vec::new();
    for f in sources {
        let slow = &f.signal.slow;
        for (t, a) in slow.supply_a.t_s.iter().zip(&slow.supply_a.value) {
            let is_busy = f.bursts.iter().any(|b| {
                *t >= b.burst.start_s - BESIDE_BURST_S && *t <= b.burst.end_s + BESIDE_BURST_S
            });
            if let (false, Some(v)) = (is_busy, slow.supply_v.nearest(*t)) {
                watts.push(v * a);
            }
        }
    }
    watts.retain(|w| w.is_finite() && *w >= 0.0);
    if watts.is_empty() {
        return Estimate::exact(0.0);
    }
    let mean = watts.iter().sum::<f64>() / watts.len() as f64;
    // Readings follow each other closely: their scatter is taken as that of one, not of their mean.
    let variance = watts.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / watts.len() as f64;
    Estimate::new(mean, variance.sqrt().min(mean), 0.0)
}
