//! One verdict as a part of the page.

use std::collections::HashSet;

use maud::{Markup, html};

use super::parts::{caution, figure, sentence, sign};
use crate::report::view::VerdictView;
use crate::report::wording::{State, capitalised};

/// The verdict: answer first, then what to do, then why.
pub(super) fn verdict(v: &VerdictView, is_subject: bool, anchors: &HashSet<String>) -> Markup {
    let subject = if is_subject { " subject" } else { "" };
    let class = format!("verdict {}{subject}", state_class(v.state));
    html! {
        article class=(class) id=(v.id) aria-labelledby=(format!("{}-title", v.id)) {
            div.answer {
                p.state { (sign(v.state)) strong { (v.state.word()) }
                    @if v.state != State::Open { span.kind { (capitalised(v.kind)) } }
                }
                p.setting { (sentence(&v.setting)) }
                h2.headline id=(format!("{}-title", v.id)) { (sentence(&v.headline)) }
                p.why { (sentence(&v.why)) }
                @for reason in &v.because { p.because { (sentence(reason)) } }
                dl.facts {
                    @for (name, value) in &v.facts {
                        div { dt { (name) } dd { (sentence(value)) } }
                    }
                    div { dt { "How sure" } dd { (sentence(&v.confidence)) " " span.word { (v.confidence_word) } } }
                }
            }
            @if let Some(window) = &v.window { div.picture { (figure(window)) } }
            div.todo {
                (advice(v))
                (against(v))
            }
            div.proof {
                (evidence(v, anchors))
                (trial(v))
            }
            @if let Some(moved) = &v.moved { (figure(moved)) }
        }
    }
}

const fn state_class(state: State) -> &'static str {
    match state {
        State::Open => "open",
        State::Limit => "limit",
        State::Repair => "repair",
        State::Unknown => "unknown",
    }
}

fn advice(v: &VerdictView) -> Markup {
    html! {
        @if !v.advice.is_empty() {
            div.do {
                h3 { "Do" }
                ol {
                    @for line in &v.advice {
                        li {
                            p { (sentence(&line.text)) }
                            @if let Some(text) = line.caution { (caution(text)) }
                        }
                    }
                }
            }
        }
    }
}

fn against(v: &VerdictView) -> Markup {
    html! {
        @if !v.against.is_empty() {
            div.dont {
                h3 { "Do not" }
                ul { @for line in &v.against { li { (sentence(line)) } } }
            }
        }
    }
}

/// What comes next: the trial, and the card of an open window.
fn trial(v: &VerdictView) -> Markup {
    html! {
        @if v.next_trial.is_some() || v.card_file.is_some() {
            div.trial {
                h3 { "Next trial" }
                @match &v.next_trial {
                    Some(trial) => {
                        p { (sentence(&trial.text)) }
                        @if let Some(text) = trial.caution { (caution(text)) }
                    }
                    None => { p { "None needed." } }
                }
                @if let Some(file) = &v.card_file {
                    p.card { a href=(file) { "Setting card to print and pin up" } }
                }
            }
        }
    }
}

fn evidence(v: &VerdictView, anchors: &HashSet<String>) -> Markup {
    html! {
        @if !v.evidence.is_empty() {
            div.evidence {
                h3 { "What was measured" }
                ul {
                    @for (line, anchor) in &v.evidence {
                        li {
                            (sentence(line))
                            @if let Some(target) = target(v, anchor, anchors) {
                                " " a href=(format!("#{target}")) { (target_word(&target)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What a link to evidence says.
fn target_word(target: &str) -> &'static str {
    match target.split('-').next() {
        Some("window" | "moved" | "curves" | "tails") => "(figure)",
        Some("method") => "(method)",
        _ => "(table)",
    }
}

/// The nearest anchor on the page: the verdict's own figure before the table.
fn target(v: &VerdictView, anchor: &str, anchors: &HashSet<String>) -> Option<String> {
    let number = v.id.trim_start_matches("verdict-");
    let own = match anchor {
        "supply" => format!("window-{number}"),
        "moved" => format!("moved-{number}"),
        other => other.to_owned(),
    };
    [own, anchor.to_owned()]
        .into_iter()
        .find(|a| anchors.contains(a))
}
