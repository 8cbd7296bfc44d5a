//! Recordings of one rig to a plan for each tip in the box.
//!
//! Gathers what [`crate::analysis::plan::outlook`] asks for: every measured tip's latest sound state in the
//! coating, the latest supply curve at the control position, grades and ratings. Refuses recordings that do
//! not belong together. No arithmetic of its own beyond choosing; no wording but the refusals'.

mod choose;
mod error;
mod known;
mod order;

use crate::analysis::plan::PlanError;
use crate::analysis::plan::crossing::Instruments;
use crate::analysis::plan::outlook::{Ask, Outlook, TailFree, judge_outlook};
use crate::analysis::plan::predict::{MeasuredTip, PlannedTip, U_ORIFICE_RATIO, predict_curve};
use crate::analysis::similarity::SHEAR_INDEX_UNKNOWN;
use crate::analysis::supply_curve::SupplyCurve;
use crate::analysis::tip_code::describe_tip;
use crate::analysis::verdict::VerdictKind;
use crate::estimate::Interval;
use crate::findings::{Findings, GroupFinding};
use crate::recording::settings::Tip;

use super::plan_tip::{hose_of, rated};
use choose::{Chosen, states_of};
pub use error::BoxError;
use known::{carried, point_of};
pub use order::{in_order_of_time, instruments_differ};

/// Relative standard uncertainty of the effective orifice of a worn or blocked tip against its stamp: other tips
/// are predicted from such a one only where there is no other (common practice, no source).
const U_UNSOUND_RATIO: f64 = 0.08;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BoxQuestion {
    /// Coating; `None` for the one that the latest recording is mainly about.
    pub material: Option<String>,
    /// Thinner, 0 to 1; `None` for the thinner that this coating was mostly measured with.
    pub thinner_ratio: Option<f64>,
    /// Control position; `None` for the highest one measured.
    pub dial: Option<String>,
    /// Tips beside those of the session files.
    pub tips: Vec<String>,
    /// Only the tips named here, not the whole box.
    pub only_named: bool,
}

/// How a measured tip was found by its own recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TipState {
    /// Nothing was wrong with it.
    Sound,
    /// It was blocked in the end: the curve before that is used.
    BlockedLater,
    /// It was blocked, and no sound state is known.
    Blocked,
    /// It is worn.
    Worn,
}

/// A tip that was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredState {
    /// Recording (index into [`BoxPlan::names`]).
    pub source: usize,
    /// Group in it.
    pub group_index: usize,
    /// How it was found.
    pub state: TipState,
}

/// One tip's plan.
#[derive(Debug, Clone, PartialEq)]
pub struct TipPlan {
    /// As the session files or its code describe it.
    pub tip: Tip,
    /// Where it was measured itself; `None` when it is predicted.
    pub measured: Option<MeasuredState>,
    /// Measured tips that it rests on, by code.
    pub from_tips: Vec<String>,
    /// Tip whose grades stand for the lowest tail-free pressure.
    pub graded_with: Option<String>,
    /// The answer.
    pub outlook: Result<Outlook, PlanError>,
}

/// Which rating is the lowest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatingOf {
    /// Of pump, hose, gun and fittings.
    Rig,
    /// Of the coating's label.
    Coating,
}

/// The plans of a box of tips.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxPlan {
    /// Names of the recordings, in order of time.
    pub names: Vec<String>,
    /// Rig, where it is known.
    pub rig: Option<String>,
    /// True when the recordings were made by the simulated rig.
    pub is_simulated: bool,
    /// True when a flow rests on a meter that was never calibrated.
    pub is_nominal: bool,
    /// Coating.
    pub material: String,
    /// Thinner, 0 to 1.
    pub thinner_ratio: f64,
    /// Most thinner that the label allows, 0 to 1.
    pub max_thinner_ratio: Option<f64>,
    /// Coating temperatures of the curves, K.
    pub material_k: Option<Interval>,
    /// Lowest rating, Pa.
    pub rated_pa: Option<f64>,
    /// Whose it is.
    pub rating_of: Option<RatingOf>,
    /// Recording of the supply curve (index into `names`) and its control position.
    pub supply: Option<(usize, String)>,
    /// What that recording found wrong with the pump's side.
    pub supply_trouble: Option<VerdictKind>,
    /// One a tip, by size.
    pub tips: Vec<TipPlan>,
}

/// Plans every tip asked for.
///
/// *Shape*: one recording or more, of one rig, in any order.
///
/// *Errors*: [`BoxError`]; what is missing for a single tip is in its own plan.
pub fn plan_box(findings: &[&Findings], question: &BoxQuestion) -> Result<BoxPlan, BoxError> {
    let sources = in_order_of_time(findings);
    check_sources(&sources)?;
    let (material, thinner_ratio) = choose::coating(&sources, question)?;
    let chosen = states_of(&sources, &material, thinner_ratio);
    let supply = choose::supply(&sources, question.dial.as_deref())?;
    let latest = sources.last().copied().ok_or(BoxError::NoRecording)?;
    let group = chosen.first().map(|c| &c.group.group);
    let rated_pa = sources
        .iter()
        .filter_map(|f| rated(f, group))
        .reduce(f64::min);
    let rig_pa = latest.settings.limits.working_pressure_pa;
    let of_rig = rig_pa.zip(rated_pa).is_some_and(|(rig, r)| rig <= r);
    let box_ = Box {
        sources: &sources,
        chosen: &chosen,
        supply,
        rated_pa,
        is_at_full: question.dial.is_none() || supply.is_some_and(|(_, s)| s.is_full),
    };
    let tips = choose::box_of(&sources, question)
        .into_iter()
        .map(|tip| box_.plan(tip))
        .collect();
    let temperatures = || chosen.iter().filter_map(|c| c.group.group.material_k);
    Ok(BoxPlan {
        names: sources.iter().map(|f| f.name.clone()).collect(),
        rig: latest.settings.rig.clone(),
        is_simulated: latest.is_simulated,
        is_nominal: sources.iter().any(|f| f.signal.flow_meter.is_nominal),
        max_thinner_ratio: choose::material_of(&sources, &material)
            .and_then(|m| m.max_thinner_ratio),
        material,
        thinner_ratio,
        material_k: temperatures()
            .reduce(f64::min)
            .zip(temperatures().reduce(f64::max))
            .map(|(low, high)| Interval { low, high }),
        rated_pa,
        rating_of: rated_pa.map(|_| {
            if of_rig {
                RatingOf::Rig
            } else {
                RatingOf::Coating
            }
        }),
        supply: supply.map(|(i, s)| (i, s.dial.clone())),
        supply_trouble: supply.and_then(|(i, _)| choose::trouble(sources[i])),
        tips,
    })
}

fn check_sources(sources: &[&Findings]) -> Result<(), BoxError> {
    let (first, others) = sources.split_first().ok_or(BoxError::NoRecording)?;
    for other in others {
        if first.is_simulated != other.is_simulated {
            let (s, m) = if first.is_simulated {
                (first, other)
            } else {
                (other, first)
            };
            return Err(BoxError::SimulatedAndMeasured {
                simulated: s.name.clone(),
                measured: m.name.clone(),
            });
        }
        if let (Some(a), Some(b)) = (&first.settings.rig, &other.settings.rig)
            && !a.trim().eq_ignore_ascii_case(b.trim())
        {
            return Err(BoxError::OtherRig {
                first: first.name.clone(),
                first_rig: a.clone(),
                second: other.name.clone(),
                second_rig: b.clone(),
            });
        }
        if first.settings.tap != other.settings.tap {
            return Err(BoxError::OtherTap {
                first: first.name.clone(),
                second: other.name.clone(),
            });
        }
    }
    Ok(())
}

/// Everything that the plans of single tips share.
struct Box<'a> {
    sources: &'a [&'a Findings],
    chosen: &'a [Chosen<'a>],
    supply: Option<(usize, &'a SupplyCurve)>,
    rated_pa: Option<f64>,
    is_at_full: bool,
}

impl Box<'_> {
    fn plan(&self, tip: Tip) -> TipPlan {
        let is_own = |c: &&Chosen| {
            c.group
                .group
                .tip
                .trim()
                .eq_ignore_ascii_case(tip.code.trim())
        };
        let own: Vec<&Chosen> = self.chosen.iter().filter(is_own).collect();
        let basis: Vec<&Chosen> = match own.is_empty() {
            false => own.clone(),
            true => self.sound(),
        };
        let (tail_free, graded_with) = match tip.orifice_diameter_m {
            Some(orifice_m) => self.tail_free(&tip.code, orifice_m),
            None => (TailFree::NotGraded, None),
        };
        TipPlan {
            measured: own.last().map(|c| MeasuredState {
                source: c.source,
                group_index: c.group_index,
                state: c.state,
            }),
            from_tips: basis.iter().map(|c| c.group.group.tip.clone()).collect(),
            graded_with,
            outlook: self.outlook(&tip, &own, &basis, tail_free),
            tip,
        }
    }

    /// Tips that others are predicted from: sound ones; only where there is none, the rest.
    fn sound(&self) -> Vec<&Chosen<'_>> {
        let is_sound = |c: &&Chosen| matches!(c.state, TipState::Sound | TipState::BlockedLater);
        let sound: Vec<&Chosen> = self.chosen.iter().filter(is_sound).collect();
        if sound.is_empty() {
            self.chosen.iter().collect()
        } else {
            sound
        }
    }

    fn outlook(
        &self,
        tip: &Tip,
        own: &[&Chosen],
        basis: &[&Chosen],
        tail_free: TailFree,
    ) -> Result<Outlook, PlanError> {
        let orifice_m = tip.orifice_diameter_m.ok_or_else(|| PlanError::NoOrifice {
            tip: tip.code.clone(),
        })?;
        let u_own = if own.is_empty() { U_ORIFICE_RATIO } else { 0.0 };
        let tips: Vec<MeasuredTip> = basis
            .iter()
            .filter_map(|c| {
                let u_unsound = match c.state {
                    TipState::Sound | TipState::BlockedLater => u_own,
                    TipState::Blocked | TipState::Worn => U_UNSOUND_RATIO,
                };
                Some(MeasuredTip {
                    curve: c.curve.clone(),
                    orifice_m: c.group.tip.as_ref()?.orifice_diameter_m?,
                    u_orifice_ratio: if own.is_empty() { u_unsound } else { 0.0 },
                })
            })
            .collect();
        let planned = PlannedTip {
            orifice_m,
            u_orifice_ratio: u_own,
        };
        let hose = basis
            .first()
            .and_then(|c| hose_of(self.sources[c.source], &c.group.group));
        let curve = predict_curve(&tips, planned, SHEAR_INDEX_UNKNOWN, hose)?;
        let (supply_source, supply) = self.supply.ok_or(PlanError::NoSupply)?;
        let is_other = basis
            .iter()
            .any(|c| instruments_differ(self.sources[c.source], self.sources[supply_source]));
        let instruments = if is_other {
            Instruments::Different
        } else {
            Instruments::Same
        };
        let seen = own.iter().find(|c| {
            let is_latest = matches!(
                c.state,
                TipState::Sound | TipState::Worn | TipState::Blocked
            );
            self.is_at_full && is_latest && c.source == supply_source
        });
        let ask = Ask {
            tail_free,
            rated_pa: self.rated_pa,
            measured: seen.and_then(|c| point_of(c.group.crossing.as_ref()?, c.curve)),
            recommended_pa: seen.and_then(|c| c.group.window.as_ref()?.recommended_pa),
            verdict: seen.and_then(|c| {
                let verdicts = &self.sources[c.source].verdicts;
                let own = verdicts.iter().find(|v| v.group_index == c.group_index)?;
                Some(own.kind)
            }),
        };
        let outlook = judge_outlook(&curve, supply, instruments, &ask)?;
        let is_mended_first = own.first().is_some_and(|c| c.state != TipState::Sound);
        let outlook = if is_mended_first {
            outlook.with_tip_not_sound()
        } else {
            outlook
        };
        Ok(if choose::trouble(self.sources[supply_source]).is_some() {
            outlook.with_pump_not_sound()
        } else {
            outlook
        })
    }

    /// Grades of this very tip, or of the one nearest in size carried to it; bracketed ones first.
    fn tail_free(&self, code: &str, orifice_m: f64) -> (TailFree, Option<String>) {
        let graded = self.chosen.iter().filter_map(|c| {
            let size = c.group.tip.as_ref()?.orifice_diameter_m?;
            let is_own = c.group.group.tip.trim().eq_ignore_ascii_case(code.trim());
            let apart = if is_own {
                0.0
            } else {
                (size / orifice_m).ln().abs().max(1e-9)
            };
            let found = carried(&c.group.tail_threshold, !is_own)?;
            let rank = u8::from(!matches!(found, TailFree::Bracketed { .. }) && !is_own);
            Some((rank, apart, found, c.group.group.tip.clone()))
        });
        let nearest = graded.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        nearest.map_or((TailFree::NotGraded, None), |(_, _, found, tip)| {
            (found, Some(tip))
        })
    }
}

/// The measured group of a plan, for what a view shows of it.
#[must_use]
pub fn group_of<'a>(
    sources: &[&'a Findings],
    measured: &MeasuredState,
) -> Option<&'a GroupFinding> {
    sources
        .get(measured.source)?
        .groups
        .get(measured.group_index)
}

/// The tip of a label with what the latest session file that knows it says of it.
fn described(sources: &[&Findings], label: &str) -> Tip {
    let known = sources.iter().rev().find(|f| {
        let tips = &f.settings.tips;
        tips.iter()
            .any(|t| t.code.trim().eq_ignore_ascii_case(label.trim()))
    });
    describe_tip(label, known.map_or(&[], |f| f.settings.tips.as_slice()))
}
