//! The page: view to HTML. Self-contained, without scripts; all user text is escaped by the writer.

mod parts;
mod style;
mod tables;
mod verdict;

use std::collections::HashSet;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::cautions::ALWAYS;
use super::view::{FigureView, MethodItem, View};
use super::{FIGURE_FOLDER, Options, RESULT_FILE, ReportFile};
pub(crate) use parts::{caution, figure, head, sentence};
pub(crate) use tables::table;

/// Figures as files of their own, wide.
pub(crate) fn figure_files(view: &View) -> Vec<ReportFile> {
    all_figures(view)
        .map(|f| ReportFile {
            name: format!("{FIGURE_FOLDER}/{}", f.file),
            text: parts::standalone(f),
        })
        .collect()
}

/// True for a name that [`figure_files`] may have given.
pub(crate) fn is_figure_name(name: &str) -> bool {
    name.strip_prefix("figures/").is_some_and(|file| {
        file.ends_with(".svg") && !file.contains(['/', '\\']) && !file.starts_with('.')
    })
}

fn all_figures(view: &View) -> impl Iterator<Item = &FigureView> {
    let own = view.verdicts.iter().flat_map(|v| [&v.window, &v.moved]);
    own.filter_map(Option::as_ref).chain(&view.figures)
}

/// Anchors that exist on the page, so that no link leads nowhere.
fn anchors(view: &View) -> HashSet<String> {
    let mut out: HashSet<String> = all_figures(view).map(|f| f.id.clone()).collect();
    out.extend(view.tables.iter().map(|t| t.id.to_owned()));
    out.extend(view.verdicts.iter().map(|v| v.id.clone()));
    out.insert("method".to_owned());
    out
}

/// The whole page.
pub(crate) fn page(view: &View, options: &Options) -> String {
    let anchors = anchors(view);
    let title = view.header.name.clone();
    html! {
        (DOCTYPE)
        html lang="en" {
            (head(&title, style::PAGE))
            body {
                a.skip href="#answer" { "To the answer" }
                (masthead(view))
                main {
                    section #answer aria-label="Answer" {
                        @if view.verdicts.is_empty() {
                            p.headline { "No answer" }
                            p { (view.no_verdict) " The tables below say what was found." }
                        }
                        @for (i, v) in view.verdicts.iter().enumerate().take(1) {
                            (verdict::verdict(v, i == 0, &anchors))
                        }
                    }
                    @if let Some(table) = &view.overview {
                        (tables::table(table))
                    }
                    // Before the other settings, so that it lies on the first sheet of paper.
                    (safety())
                    @for v in view.verdicts.iter().skip(1) {
                        (verdict::verdict(v, false, &anchors))
                    }
                    @for f in &view.figures {
                        (figure(f))
                    }
                    p.on-paper {
                        "On paper stand answer and figures; every burst, note, instrument and formula stands on the "
                        "page itself, and in bursts.csv and " (RESULT_FILE) "."
                    }
                    div.tables.long {
                        @for t in &view.tables {
                            (tables::table(t))
                        }
                        (method(&view.method))
                    }
                }
                (footer(options))
            }
        }
    }
    .into_string()
}

fn masthead(view: &View) -> Markup {
    html! {
        header.mast {
            h1 { (view.header.name) }
            p.line { (sentence(&view.header.line)) }
            @for n in &view.notices {
                p.notice { strong { (n.heading) ". " } (sentence(&n.text)) }
            }
        }
    }
}

/// What is said on every page, whatever the answer.
pub(crate) fn safety() -> Markup {
    html! {
        section.safety aria-labelledby="safety" {
            h2 #safety { "Before you touch the rig" }
            dl {
                @for (name, text) in ALWAYS {
                    div { dt { (name) } dd { (text) } }
                }
            }
        }
    }
}

/// How it was computed.
pub(crate) fn method(items: &[MethodItem]) -> Markup {
    html! {
        section #method aria-labelledby="method-title" {
            h2 #method-title { "Method" }
            @for item in items {
                div.method {
                    h3 { (item.heading) }
                    @if !item.formula.is_empty() {
                        p.formula { (item.formula) }
                    }
                    p { (sentence(&item.text)) }
                    p.source { "Source: " (item.source) "." }
                }
            }
        }
    }
}

fn footer(options: &Options) -> Markup {
    html! {
        footer {
            p {
                "Made by tipcurve"
                @if let Some(at) = &options.made_at { ", " (at) }
                ". Every number on this page stands in "
                a href=(RESULT_FILE) { (RESULT_FILE) }
                " with its SI value; figures as files are in "
                (FIGURE_FOLDER) "."
            }
        }
    }
}

/// The foot of a page whose numbers stand in `result`.
pub(crate) fn made_by(made_at: Option<&str>, result: &str) -> Markup {
    html! {
        footer {
            p {
                "Made by tipcurve"
                @if let Some(at) = made_at { ", " (at) }
                ". Every number on this page stands in "
                a href=(result) { (result) }
                " with its SI value."
            }
        }
    }
}

/// Style sheet of a page.
pub(crate) const fn style_page() -> &'static str {
    style::PAGE
}

/// Style sheet of a setting card.
pub(crate) const fn style_card() -> &'static str {
    style::CARD
}

/// Text that is markup already: figures drawn here, and the style sheet.
fn raw(text: &str) -> PreEscaped<&str> {
    PreEscaped(text)
}
