//! Small parts of the page: head, sentences with their numbers, figures, cautions, signs.

use maud::{Markup, PreEscaped, html};

use super::raw;
use crate::report::piece::{Piece, Sentence};
use crate::report::view::FigureView;
use crate::report::wording::State;

/// Head of a page.
pub(crate) fn head(title: &str, css: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) " \u{2013} tipcurve" }
            style { (raw(css)) (PreEscaped(super::style::figure_colours())) }
        }
    }
}

/// A sentence; each number is a `data` element with its SI value and its place in `result.json`.
pub(crate) fn sentence(s: &Sentence) -> Markup {
    html! {
        @for piece in &s.0 {
            @match piece {
                Piece::Text(text) => { (text) }
                Piece::Quoted(text) => { span.q { (text) } }
                Piece::Link { words, anchor } => { a href=(format!("#{anchor}")) { (sentence(words)) } }
                Piece::Number(n) => {
                    data value=(n.si) data-key=(n.key) {
                        (n.text)
                        @if !n.unit.is_empty() { "\u{a0}" (n.unit) }
                    }
                }
            }
        }
    }
}

/// A caution beside what it belongs to.
pub(crate) fn caution(text: &str) -> Markup {
    html! {
        p.caution {
            svg.sign viewBox="0 0 24 24" width="20" height="20" aria-hidden="true" {
                path d="M12 2.5 22.5 21h-21z" fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round" {}
                path d="M12 9v6M12 17.2v1.6" stroke="currentColor" stroke-width="2.2" {}
            }
            span { strong { "Caution. " } (text) }
        }
    }
}

/// Shape of a state: told apart without colour.
pub(super) fn sign(state: State) -> Markup {
    let shape = match state {
        State::Open => {
            "<circle cx=\"12\" cy=\"12\" r=\"10\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\"/>\
             <path d=\"m7 12.4 3.4 3.6L17.2 8.6\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.6\"/>"
        }
        State::Limit => {
            "<path d=\"M2 12h13M10 6.5 15.5 12 10 17.5M20 3v18\" fill=\"none\" stroke=\"currentColor\" \
             stroke-width=\"2.6\"/>"
        }
        State::Repair => {
            "<path d=\"M3 3h18v18H3z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\"/>\
             <path d=\"m7.5 7.5 9 9m0-9-9 9\" stroke=\"currentColor\" stroke-width=\"2.6\"/>"
        }
        State::Unknown => {
            "<path d=\"M12 1.5 22.5 12 12 22.5 1.5 12z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.2\"/>\
             <path d=\"M9.3 9.6a2.8 2.8 0 1 1 3.9 2.6c-.9.4-1.2.9-1.2 1.9M12 15.8v1.8\" fill=\"none\" \
             stroke=\"currentColor\" stroke-width=\"2\"/>"
        }
    };
    html! {
        svg.sign viewBox="0 0 24 24" width="28" height="28" aria-hidden="true" { (raw(shape)) }
    }
}

/// A figure with its caption, drawn for page and phone; the style sheet shows one.
pub(crate) fn figure(f: &FigureView) -> Markup {
    html! {
        figure id=(f.id) {
            h3 { (f.title) }
            div.wide { (PreEscaped(described(&f.wide, &f.description))) }
            div.narrow { (PreEscaped(described(&f.narrow, &f.description))) }
            @if let Some(paper) = &f.paper {
                div.paper { (PreEscaped(described(paper, &f.description))) }
            }
            figcaption { (sentence(&f.caption)) }
        }
    }
}

/// The drawing with a role and words for those who cannot see it.
fn described(svg: &str, description: &str) -> String {
    let label = html! { svg role="img" aria-label=(description) {} }.into_string();
    let open = label
        .strip_suffix("></svg>")
        .unwrap_or("<svg role=\"img\"")
        .to_owned();
    svg.replacen("<svg", &open, 1)
}

/// The drawing as a file of its own, with a title.
pub(super) fn standalone(f: &FigureView) -> String {
    let title = html! { title { (f.title) } desc { (f.description) } }.into_string();
    f.wide.replacen(">\n", &format!(">\n{title}\n"), 1)
}
