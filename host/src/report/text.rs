//! The verdicts as plain text for a terminal.

use super::cautions::{beside_advice, beside_trial};
use super::number::Show;
use super::piece::printable;
use super::view::{
    NO_RATING, implausible_flow, is_meter_unknown, mistyped_tips, no_verdict, setting_name,
};
use super::wording::{State, Subject, advise, because, headline, kind_name, next_trial, state};
use crate::findings::Findings;
use crate::units::UnitChoice;

/// A few lines a verdict: answer, advice, next trial.
pub(crate) fn summary(f: &Findings, units: UnitChoice) -> String {
    let show = Show { units };
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    line(printable(&f.name));
    if f.is_simulated {
        line("Simulated data: no paint was sprayed.".to_owned());
    }
    for defect in f.load_defects.iter().filter(|d| d.code == "unknown_key") {
        line(printable(&defect.message));
    }
    for message in mistyped_tips(f) {
        line(printable(message));
    }
    if f.settings.limits.working_pressure_pa.is_none() {
        line(format!("No rating. {NO_RATING}"));
    }
    if is_meter_unknown(f) {
        line("Flow not known: session.toml has no pulses_per_litre under [flow_meter].".to_owned());
    } else if f.signal.flow_meter.is_nominal && implausible_flow(f).is_none() {
        line("Meter not calibrated: every flow carries a large common uncertainty.".to_owned());
    }
    if let Some(i) = implausible_flow(f) {
        line(format!(
            "Flow in doubt: {}.",
            printable(&f.defects[i].consequence)
        ));
    }
    if f.verdicts.is_empty() {
        line(format!("No verdict. {}", no_verdict(f)));
    }
    for i in 0..f.verdicts.len() {
        let Some(s) = Subject::new(f, show, i) else {
            continue;
        };
        line(String::new());
        line(setting_name(f, show, s.verdict.group_index).to_text());
        let sure = show.probability(s.verdict.confidence, "").to_text();
        let state = state(s.verdict.kind);
        let kind = match state {
            State::Open => String::new(),
            _ => format!(": {}", kind_name(s.verdict.kind)),
        };
        line(format!(
            "  {}{kind} ({sure}). {}.",
            state.word(),
            headline(&s).to_text()
        ));
        for code in &s.verdict.because {
            line(format!("  {}", because(&s, code).to_text()));
        }
        if let Some(advice) = s.verdict.advice.first() {
            line(format!("  Do: {}", advise(&s, *advice).to_text()));
            if let Some(caution) = beside_advice(*advice) {
                line(format!("  Caution. {}", caution.text()));
            }
        }
        if let Some(trial) = &s.verdict.next_trial {
            line(format!("  Next trial: {}", next_trial(&s, trial).to_text()));
            let said = s.verdict.advice.first().and_then(|a| beside_advice(*a));
            if let Some(caution) = beside_trial(trial).filter(|c| said != Some(*c)) {
                line(format!("  Caution. {}", caution.text()));
            }
        }
    }
    line(String::new());
    line(super::cautions::SHORT.to_owned());
    out.replace(super::number::NBSP, " ")
}
