//! The page of a comparison: answer first, the figure, then the table. Self-contained, without scripts.

use maud::{DOCTYPE, Markup, html};

use super::view::{CompareView, DayView, PartView};
use super::{COMPARE_RESULT, Compared};
use crate::findings::Findings;
use crate::pipeline::compare_days::DaysMove;
use crate::report::card_data::slug;
use crate::report::figure::{Days, Width, draw_days};
use crate::report::html::{caution, figure, head, made_by, safety, sentence, style_page};
use crate::report::number::Show;
use crate::report::piece::Sentence;
use crate::report::view::FigureView;
use crate::report::{Options, ReportError};

/// The whole page.
pub(super) fn page(
    compared: &Compared,
    view: &CompareView,
    show: Show,
    options: &Options,
) -> Result<String, ReportError> {
    let mut days: Vec<Vec<Option<FigureView>>> = Vec::new();
    for (i, ((after, moved), day)) in compared.later.iter().zip(&view.days).enumerate() {
        let figures = day.parts.iter().enumerate().map(|(j, part)| {
            let name = format!("moved-{}-{}", i + 1, j + 1);
            moved_figure(compared.before, after, moved, part, show, name)
        });
        days.push(figures.collect::<Result<_, _>>()?);
    }
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
                    @for (day, figures) in view.days.iter().zip(&days) { (day_section(day, figures)) }
                    (safety())
                }
                (made_by(options.made_at.as_deref(), COMPARE_RESULT))
            }
        }
    };
    Ok(markup.into_string())
}

fn day_section(day: &DayView, figures: &[Option<FigureView>]) -> Markup {
    html! {
        section {
            h2 { (day.title) }
            @for note in &day.notes { p.notice { (sentence(note)) } }
            @for (part, drawn) in day.parts.iter().zip(figures) { (part_article(part, drawn.as_ref())) }
            @for line in &day.left_out { p.caption { (sentence(line)) } }
        }
    }
}

fn part_article(part: &PartView, drawn: Option<&FigureView>) -> Markup {
    html! {
        article.verdict.unknown {
            div.answer {
                p.setting { (sentence(&part.heading)) }
                h3.headline { (part.state) }
                p.why { (part.headline) }
            }
            div.proof { div.evidence {
                h3 { "Evidence" }
                ul { @for fact in &part.facts { li { (sentence(fact)) } } }
            } }
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

fn moved_figure(
    before: &Findings,
    after: &Findings,
    moved: &DaysMove,
    part: &PartView,
    show: Show,
    name: String,
) -> Result<Option<FigureView>, ReportError> {
    let nozzle = part.nozzle.and_then(|i| {
        let n = moved.nozzles.get(i)?;
        n.result.as_ref().ok()?;
        let curve = |f: &'_ Findings, g: usize| f.groups.get(g)?.curve.as_ref().ok().cloned();
        Some((curve(before, n.before_group)?, curve(after, n.after_group)?))
    });
    let supply = moved.supply.as_ref().ok().and_then(|s| {
        let b = before.supply.get(s.before_curve)?;
        Some((b, after.supply.get(s.after_curve)?))
    });
    let days = Days {
        nozzle: nozzle.as_ref().map(|(b, a)| (b, a)),
        supply,
    };
    let drawn = |e: crate::report::figure::FigureError| ReportError::Figure { what: e.what };
    let wide = draw_days(days, show, Width::Wide).map_err(drawn)?;
    let narrow = draw_days(days, show, Width::Narrow).map_err(drawn)?;
    let (Some(wide), Some(narrow)) = (wide, narrow) else {
        return Ok(None);
    };
    let which = match (days.nozzle, days.supply) {
        (Some(_), Some(_)) => {
            "A blocked or worn tip moves the nozzle curve; inlet, pump or battery move what the pump holds."
        }
        (Some(_), None) => "A blocked or worn tip moves it; so does another coating temperature.",
        _ => "A starved inlet, a tired pump or a weak battery moves it.",
    };
    Ok(Some(FigureView {
        file: format!("{name}{}.svg", slug(&part.heading.to_text())),
        id: name,
        title: "Which curve moved",
        caption: Sentence::from(format!(
            "Hollow and grey: the earlier day. Filled: the later one. Each mark is one burst with its bars of 95\u{a0}% \
             from noise. {which}"
        )),
        description: "Flow against pressure of the tip, and what the pump holds, as far as both days have them, before \
                      and after. The numbers stand under Evidence."
            .to_owned(),
        wide,
        narrow,
        paper: None,
    }))
}
