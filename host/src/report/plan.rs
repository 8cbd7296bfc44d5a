//! A plan as a person and a program read it: a table of the box, then each tip with its reason.
//!
//! [`text`] is for the terminal, [`json`] for programs (see `report/PLAN_JSON.md`). Advice comes with its caution,
//! atomisation limit and supply limit are never mixed, and no pressure above the lowest rating is ever advised.
//! Decides nothing.

mod job;
mod json;
mod rows;
mod words;

pub use json::json;

use super::cautions::{Caution, SHORT};
use super::number::{Kind, NBSP, Show};
use super::piece::printable;
use crate::analysis::answer::Answer;
use crate::pipeline::plan_box::{BoxPlan, RatingOf};
use crate::pipeline::plan_job::{JobError, JobPlan, JobQuestion};
use crate::units::UnitChoice;

/// A plan and, where an area was asked for, one job a tip.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// The plan.
    pub plan: &'a BoxPlan,
    /// The area asked for and what each tip takes for it, as long as the plan's tips.
    pub job: Option<(&'a JobQuestion, &'a [Result<JobPlan, JobError>])>,
}

/// The plan as plain text: no colour, no markup, lines of any length.
#[must_use]
pub fn text(planned: &Planned, units: &UnitChoice) -> String {
    let show = Show { units: *units };
    let mut lines = head(planned.plan, show);
    if planned.plan.tips.len() > 1 {
        lines.push(String::new());
        lines.extend(rows::table(planned, show));
    }
    let mut said: Vec<Caution> = Vec::new();
    let is_box = planned.plan.tips.len() > 1;
    for (i, tip) in planned.plan.tips.iter().enumerate() {
        let is_yes = tip.outlook.as_ref().is_ok_and(|o| o.answer == Answer::Yes);
        if is_box && is_yes && planned.job.is_none() {
            // The table says it; its reasons are a question of their own.
            continue;
        }
        lines.push(String::new());
        lines.extend(words::tip_lines(planned.plan, tip, show, &mut said));
        if let Some((question, jobs)) = planned.job
            && let Some(found) = jobs.get(i)
        {
            lines.extend(job::lines(question, found, show));
        }
    }
    lines.push(String::new());
    if is_box {
        lines.push("More on one tip: add --tip CODE.".to_owned());
    }
    lines.push(SHORT.to_owned());
    let mut out = lines.join("\n").replace(NBSP, " ");
    out.push('\n');
    out
}

/// What the plan is about and what it rests on.
fn head(plan: &BoxPlan, show: Show) -> Vec<String> {
    let mut lines = Vec::new();
    let mut about = printable(&plan.material);
    if about.is_empty() {
        about = "a coating without a name".to_owned();
    }
    if plan.thinner_ratio > 0.0 {
        let thinner = show.plain(Kind::Percent, plan.thinner_ratio, "").to_text();
        about.push_str(&format!(", {thinner} thinner"));
    } else {
        about.push_str(", no thinner");
    }
    if let Some(k) = plan.material_k {
        let apart = k.high - k.low;
        let low = show.fixed(Kind::Temperature, k.low, 0, "").to_text();
        let high = show.fixed(Kind::Temperature, k.high, 0, "").to_text();
        about.push_str(&if apart < 1.0 {
            format!(", at {high}")
        } else {
            format!(", at {low} to {high}")
        });
    }
    lines.push(format!("Plan for {about}"));
    if plan.is_simulated {
        lines.push("Simulated data: no paint was sprayed; do not set a real rig by it.".to_owned());
    }
    if plan.is_nominal {
        lines.push(
            "Meter not calibrated: every flow carries a large common uncertainty.".to_owned(),
        );
    }
    let names: Vec<String> = plan.names.iter().map(|n| printable(n)).collect();
    let rig = plan.rig.as_ref().map(|r| printable(r));
    lines.push(format!(
        "From {}{}.",
        names.join(", "),
        rig.map_or_else(String::new, |r| format!(", {r}"))
    ));
    lines.extend(supply_line(plan));
    if let (Some(pa), Some(of)) = (plan.rated_pa, plan.rating_of) {
        let whose = match of {
            RatingOf::Rig => "the lowest rating of pump, hose, gun and fittings",
            RatingOf::Coating => "the coating's own limit",
        };
        let most = show.setting(pa, Some(pa), "").to_text();
        lines.push(format!("Never above {most}, {whose}."));
    } else {
        lines.push(
            "No rating is given: add working_pressure_bar under [limits] in session.toml, and never go above what \
             the weakest part is rated for."
                .to_owned(),
        );
    }
    lines
}

fn supply_line(plan: &BoxPlan) -> Vec<String> {
    use crate::analysis::verdict::VerdictKind;
    let Some((source, dial)) = &plan.supply else {
        return vec![
            "What the pump holds is not known: no burst has a control position in its notes (column dial). \
             Record one burst at full control with its position noted."
                .to_owned(),
        ];
    };
    let mut lines = vec![format!(
        "What the pump holds is taken at control position \u{201c}{}\u{201d}, from {}.",
        printable(dial),
        plan.names
            .get(*source)
            .map_or_else(String::new, |n| printable(n))
    )];
    let trouble = match plan.supply_trouble {
        Some(VerdictKind::RestrictionInlet) => Some((
            "That recording found a restriction at the inlet or the pump. Clean the inlet strainer, look for air on the \
             suction side, then record one burst at full control.",
            Caution::HandsAtPump,
        )),
        Some(VerdictKind::WeakBattery) => Some((
            "That recording ended with a weak battery. Record one burst at full control with a full one.",
            Caution::Battery,
        )),
        _ => None,
    };
    if let Some((text, caution)) = trouble {
        lines.push(text.to_owned());
        lines.push(format!("Caution. {}", caution.text()));
    }
    lines
}

#[cfg(test)]
mod tests;
