//! The present group's state in a sentence or two: what is known and what is missing.
//!
//! Short enough to read with a gun in the hand. The full verdict with its evidence, advice and
//! cautions is the report's; nothing here tells anyone to turn pressure up.

use crate::analysis::nozzle_curve::CurveRefusal;
use crate::analysis::tail_threshold::TailThreshold;
use crate::analysis::window::{UpperLimit, Window};
use crate::findings::{Findings, GroupFinding};
use crate::live::phrase::Phrase;
use crate::live::snapshot::SettingView;

use super::views::{is_current, label};

/// The sentences, most important first.
pub(super) fn say(findings: &Findings, setting: &SettingView) -> Vec<Phrase> {
    if findings.bursts.is_empty() {
        return vec![Phrase::text(
            "No burst yet. Note tip and coating, then pull the trigger for five seconds or more.",
        )];
    }
    let Some(group) = findings
        .groups
        .iter()
        .rev()
        .find(|group| is_current(group, setting))
    else {
        let missing = match setting.tip {
            None => "Note the tip, so that the bursts have a curve to belong to.",
            Some(_) => "No usable burst with this tip and coating yet.",
        };
        return vec![Phrase::text(missing)];
    };
    let name = label(group);
    let limit_pa = findings.settings.limits.working_pressure_pa;
    let mut words = vec![tails(&name, group), curve(group, limit_pa)];
    words.extend(group.window.as_ref().map(window));
    words
}

fn tails(name: &str, group: &GroupFinding) -> Phrase {
    let head = Phrase::text(format!("{name}: "));
    match &group.tail_threshold {
        TailThreshold::Between {
            highest_with_tails_pa,
            lowest_without_pa,
            overlap,
            ..
        } => {
            let phrase = head
                .and("tails up to ")
                .pressure(*highest_with_tails_pa)
                .and(", none from ")
                .pressure(*lowest_without_pa);
            if *overlap {
                phrase.and("; the grades overlap, one more near there would help.")
            } else {
                phrase.and(".")
            }
        }
        TailThreshold::Above {
            highest_with_tails_pa,
            ..
        } => head
            .and("tails in every graded burst, up to ")
            .pressure(*highest_with_tails_pa)
            .and("."),
        TailThreshold::Below {
            lowest_without_pa, ..
        } => head
            .and("no tails in any graded burst, down to ")
            .pressure(*lowest_without_pa)
            .and("; try lower to find where they begin."),
        TailThreshold::NoGrades => head.and("no tail grade yet; grade each burst as it ends."),
    }
}

/// A pressure is only suggested within the lowest rating.
fn curve(group: &GroupFinding, limit_pa: Option<f64>) -> Phrase {
    let suggest = |head: Phrase, suggest_pa: f64| {
        if limit_pa.is_some_and(|limit| suggest_pa > limit) {
            head.and("; a lower pressure would help most.")
        } else {
            head.and("; a burst near ")
                .pressure(suggest_pa)
                .and(" would help most.")
        }
    };
    match &group.curve {
        Ok(curve) => Phrase::text("Curve from ")
            .and(curve.points.len().to_string())
            .and(" bursts: ")
            .flow(curve.power_law.q_ref_m3_per_s.value)
            .and(" at ")
            .pressure(curve.power_law.p_ref_pa)
            .and("."),
        Err(CurveRefusal::TooFewPressures {
            distinct_pa,
            needed,
            suggest_pa,
        }) => suggest(
            Phrase::text(format!(
                "No curve yet: {} of {needed} pressures",
                distinct_pa.len()
            )),
            *suggest_pa,
        ),
        Err(CurveRefusal::NarrowRange { suggest_pa, .. }) => suggest(
            Phrase::text("No curve yet: the pressures lie too close together"),
            *suggest_pa,
        ),
        Err(CurveRefusal::TemperatureChanged { .. }) => {
            Phrase::text("No curve: the coating's temperature changed between the bursts.")
        }
        Err(_) => Phrase::text("No curve from these bursts yet."),
    }
}

fn window(window: &Window) -> Phrase {
    let why = match window.upper_limit {
        UpperLimit::Supply => "what the rig holds with this tip",
        UpperLimit::SupplyComputed => "what the rig would hold with this tip",
        UpperLimit::WorkingPressure => "the lowest rated working pressure",
        UpperLimit::CoatingLimit => "the coating maker's limit",
        UpperLimit::Runs => "where the coat ran",
        UpperLimit::HighestTried => "the highest tried",
    };
    let phrase = match window.lower_pa {
        Some(lower) => Phrase::text("Window from ").pressure(lower).and(" to "),
        None => Phrase::text("Window up to "),
    };
    phrase
        .pressure(window.upper_pa)
        .and(format!(" ({why}); open with "))
        .ratio(window.open_probability)
        .and(" probability.")
}
