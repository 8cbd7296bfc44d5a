//! `tipcurve plan`: will this rig push this coating through this tip?

use crate::analysis::tip_code::describe_tip;
use crate::findings::Findings;
use crate::pipeline::plan_box::{BoxError, BoxQuestion, in_order_of_time, plan_box};
use crate::pipeline::plan_job::{JobQuestion, WantedFilm, plan_job};
use crate::report::plan::{Planned, json, text};
use crate::units::M3_PER_L;

use super::Stop;
use super::args::PlanArgs;
use super::nearest::suggestion;
use super::read::read_all;
use super::terminal;

pub(super) fn run(args: &PlanArgs) -> Result<(), Stop> {
    let findings = read_all(&args.recordings)?;
    let list: Vec<&Findings> = findings.iter().collect();
    check_tips(args, &list)?;
    let question = BoxQuestion {
        material: args.material.clone(),
        thinner_ratio: args.thinner.map(|percent| percent / 100.0),
        dial: args.dial.clone(),
        tips: args.tip.iter().chain(&args.tips).cloned().collect(),
        only_named: !args.tip.is_empty(),
    };
    let plan = plan_box(&list, &question).map_err(|e| refused(&e, &list))?;
    let job = job_question(args);
    let sources = in_order_of_time(&list);
    let jobs = job.map(|question| {
        let of_tip = |tip| plan_job(&sources, &plan, tip, &question);
        plan.tips.iter().map(of_tip).collect::<Vec<_>>()
    });
    let planned = Planned {
        plan: &plan,
        job: job.as_ref().zip(jobs.as_deref()),
    };
    say(args, &planned)
}

fn say(args: &PlanArgs, planned: &Planned) -> Result<(), Stop> {
    if args.json {
        terminal::print(&format!("{}\n", json(planned).map_err(Stop::failed)?));
    } else {
        terminal::print(&text(planned, &args.units.choice()));
    }
    Ok(())
}

/// A tip named on the command line must be known or have its size in its code.
fn check_tips(args: &PlanArgs, findings: &[&Findings]) -> Result<(), Stop> {
    let known: Vec<&str> = findings
        .iter()
        .flat_map(|f| {
            let listed = f.settings.tips.iter().map(|t| t.code.as_str());
            listed.chain(f.groups.iter().map(|g| g.group.tip.as_str()))
        })
        .collect();
    for asked in args.tip.iter().chain(&args.tips) {
        let is_known = known
            .iter()
            .any(|k| k.trim().eq_ignore_ascii_case(asked.trim()));
        if !is_known && describe_tip(asked, &[]).orifice_diameter_m.is_none() {
            return Err(Stop::bad_input(format!(
                "tip \u{201c}{asked}\u{201d} is not in the session file and its size is not in its code (as in 415: \
                 fan 4, orifice 15 thousandths){}",
                suggestion(asked, known.iter().copied())
            )));
        }
    }
    Ok(())
}

/// The refusal, with the nearest word where one was mistyped.
fn refused(error: &BoxError, findings: &[&Findings]) -> Stop {
    let near = match error {
        BoxError::NoSuchCoating { asked, .. } => {
            let groups = findings.iter().flat_map(|f| &f.groups);
            suggestion(asked, groups.map(|g| g.group.material.as_str()))
        }
        BoxError::NoSuchDial { asked, .. } => {
            let curves = findings.iter().flat_map(|f| &f.supply);
            suggestion(asked, curves.map(|s| s.dial.as_str()))
        }
        _ => String::new(),
    };
    Stop::bad_input(format!("{error}{near}"))
}

fn job_question(args: &PlanArgs) -> Option<JobQuestion> {
    let film = match (args.film_um, args.dry_film_um, args.coverage) {
        (Some(um), _, _) => WantedFilm::Wet(um * 1e-6),
        (_, Some(um), _) => WantedFilm::Dry(um * 1e-6),
        (_, _, Some(m2_per_l)) => WantedFilm::Coverage(m2_per_l / M3_PER_L),
        _ => WantedFilm::OneCoat,
    };
    Some(JobQuestion {
        area_m2: args.area?,
        film,
        hand_speed_m_per_s: args.hand_speed,
        overlap_ratio: args.overlap / 100.0,
        spraying_ratio: args.trigger_share / 100.0,
    })
}
