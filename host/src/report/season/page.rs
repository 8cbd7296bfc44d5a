//! The page of a season: one answer and one figure a trend. Self-contained, without scripts.

use maud::{DOCTYPE, Markup, html};

use super::SEASON_RESULT;
use super::view::{PartView, SeasonView};
use crate::report::figure::{FigureError, Width, draw_trend};
use crate::report::html::{caution, figure, head, made_by, safety, sentence, style_page};
use crate::report::piece::Sentence;
use crate::report::view::FigureView;
use crate::report::{Options, ReportError};

/// The whole page.
pub(super) fn page(view: &SeasonView, options: &Options) -> Result<String, ReportError> {
    let figures = view
        .parts
        .iter()
        .enumerate()
        .map(|(i, part)| trend_figure(part, i))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| ReportError::Figure { what: e.what })?;
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&view.title, style_page()))
            body {
                a.skip href="#answer" { "To the answer" }
                header.mast {
                    h1 { (view.title) }
                    @for n in &view.notices { p.notice { (sentence(n)) } }
                }
                main #answer {
                    @for (part, drawn) in view.parts.iter().zip(&figures) { (article(part, drawn.as_ref())) }
                    (safety())
                }
                (made_by(options.made_at.as_deref(), SEASON_RESULT))
            }
        }
    };
    Ok(markup.into_string())
}

fn article(part: &PartView, drawn: Option<&FigureView>) -> Markup {
    html! {
        article.verdict.unknown {
            div.answer {
                h2.setting { (sentence(&part.heading)) }
                p.why { (sentence(&part.headline)) }
                @for fact in &part.facts { p.because { (sentence(fact)) } }
            }
            @if !part.advice.is_empty() {
                div.todo { div.do {
                    h3 { "Do" }
                    ol { @for (advice, beside) in &part.advice {
                        li { p { (advice) } @if let Some(text) = beside { (caution(text)) } }
                    } }
                } }
            }
            @if let Some(drawn) = drawn { (figure(drawn)) }
        }
    }
}

fn trend_figure(part: &PartView, index: usize) -> Result<Option<FigureView>, FigureError> {
    let wide = draw_trend(&part.drawn, Width::Wide)?;
    let narrow = draw_trend(&part.drawn, Width::Narrow)?;
    let (Some(wide), Some(narrow)) = (wide, narrow) else {
        return Ok(None);
    };
    let id = format!("trend-{}", index + 1);
    Ok(Some(FigureView {
        file: format!("{id}.svg"),
        id,
        title: part.figure_title,
        caption: Sentence::from(
            "Each mark is one recording with its bar of 95 % from noise; the line is the straight line through them, the \
             shaded band its 95 % interval. Grey and hollow: left out of the line.",
        ),
        description: format!(
            "{} recordings with a straight line through them. The numbers stand in the text and in season.json.",
            part.drawn.points.len()
        ),
        wide,
        narrow,
        paper: None,
    }))
}
