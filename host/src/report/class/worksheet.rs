//! One student's worksheet: their trial, their bursts against the reference, sums to do, their place.

use maud::{DOCTYPE, Markup, html};

use super::{pictures, words};
use crate::class_findings::{ClassFindings, Student, StudentRecording};
use crate::report::cautions::SHORT;
use crate::report::html::{caution, figure, head, sentence, style_page, table};
use crate::report::number::{Kind, Show, setting_decimals};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::report::view::{Row, Table, numbers};
use crate::report::wording::count;
use crate::report::{ReportError, ReportFile};

/// What a worksheet adds to the page's style: lines to write on, and one sheet of paper.
const STYLE: &str = include_str!("worksheet.css");

/// The worksheet of one student.
pub(super) fn page(
    class: &ClassFindings,
    show: Show,
    index: usize,
) -> Result<ReportFile, ReportError> {
    let student = &class.students[index];
    let own = pictures::own(class, show, student)?;
    let css = [style_page(), STYLE].concat();
    let text = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Worksheet {}", printable(&student.label)), &css))
            body.sheet {
                header.mast {
                    h1 { "Worksheet: " (sentence(&quoted(&student.label).into())) }
                    p.line { (sentence(&line(class, show))) }
                    @if class.is_simulated {
                        p.notice { strong { "Simulated data. " } "No paint was sprayed; names are invented." }
                    }
                }
                main {
                    @for (j, r) in student.recordings.iter().enumerate() {
                        (recording(show, (index, j), r))
                    }
                    @if let Some(f) = &own { (figure(f)) }
                    (questions(show, index, student))
                    (place(class, show, index, student))
                    (caution(SHORT))
                }
            }
        }
    };
    Ok(ReportFile {
        name: super::sheet_name(index, student),
        text: text.into_string(),
    })
}

fn line(class: &ClassFindings, show: Show) -> Sentence {
    let mut out = Sentence::default();
    if let Some(title) = &class.title {
        out.push(say![quoted(title), " \u{b7} "]);
    }
    if let Some(s) = &class.setting {
        out.push(words::setting(show, s));
    }
    out
}

/// Table of the bursts of one recording, or why there is none.
fn recording(show: Show, (i, j): (usize, usize), r: &StudentRecording) -> Markup {
    let key = format!("/students/{i}/recordings/{j}");
    let trial = match &r.trial {
        Ok(trial) => trial,
        Err(a) => {
            return html! {
                section {
                    h2 { "No bursts to work with" }
                    p { (sentence(&words::aside(show, a, &format!("{key}/aside")))) }
                    p { "Work with the bursts of a neighbour, and spray again." }
                }
            };
        }
    };
    let rows = trial
        .points
        .iter()
        .enumerate()
        .map(|(n, p)| {
            let at = |m: &str| format!("{key}/bursts/{n}/{m}");
            let reference = trial.reference_m3_per_s.get(n);
            let mut cells = vec![
                count(show, p.burst_index + 1, at("number")),
                // Three digits: what meter and sensor are known to, not what ten seconds of noise allow.
                say![show.bare_fixed(
                    Kind::Pressure,
                    p.pressure_pa.value,
                    setting_decimals(show.units.pressure) + 1,
                    at("pressure_pa/value")
                )],
                say![show.bare(Kind::Flow, p.flow_m3_per_s.value, at("flow_m3_per_s/value"))],
            ];
            if let Some(q) = reference {
                cells.push(say![show.bare(Kind::Flow, *q, at("reference_m3_per_s"))]);
                cells.push(say![show.deviation(
                    super::deviation(p.flow_m3_per_s.value, *q),
                    None,
                    at("deviation_ratio")
                )]);
            }
            Row {
                id: String::new(),
                is_quiet: false,
                cells,
            }
        })
        .collect();
    let mut columns = vec![
        numbers("Burst", ""),
        numbers("Spraying pressure", show.symbol(Kind::Pressure)),
        numbers("Flow", show.symbol(Kind::Flow)),
    ];
    if !trial.reference_m3_per_s.is_empty() {
        columns.push(numbers("Reference there", show.symbol(Kind::Flow)));
        columns.push(numbers("Deviation", "%"));
    }
    html! {
        (table(&Table {
            id: ["bursts", "bursts-2", "bursts-3", "bursts-4"][j.min(3)],
            title: "Your bursts",
            caption: say![
                count(show, trial.points.len(), format!("{key}/n_used")),
                " of ",
                count(show, trial.n_bursts, format!("{key}/n_bursts")),
                " bursts are usable."
            ],
            columns,
            rows,
        }))
    }
}

fn questions(show: Show, i: usize, s: &Student) -> Markup {
    let key = |m: &str| format!("/students/{i}/exercise/{m}");
    let first = s.exercise.and_then(|e| {
        let points = &s
            .recordings
            .get(e.recording_index)?
            .trial
            .as_ref()
            .ok()?
            .points;
        let number = |index: usize, name: &str| {
            points
                .get(index)
                .map(|p| count(show, p.burst_index + 1, key(name)))
        };
        Some((
            number(e.low_index, "low_number")?,
            number(e.high_index, "high_number")?,
        ))
    });
    html! {
        section.questions aria-labelledby="questions" {
            h2 #questions { "Work it out" }
            ol {
                @match &first {
                    Some((low, high)) => {
                        li { "Take bursts " (sentence(low)) " and " (sentence(high)) ". Exponent n = ln(q2 / q1) / ln(p2 / p1): " (blank()) }
                        li { "By that n: the pressure is doubled. How many times the flow? 2 to the power n: " (blank()) }
                    }
                    None => {
                        li { "Exponent n = ln(q2 / q1) / ln(p2 / p1) needs two bursts, the higher pressure a quarter above the lower. Which burst would you add? " (blank()) }
                        li { "With n = 0.5: the pressure is doubled. How many times the flow? 2 to the power n: " (blank()) }
                    }
                }
                li { "Deviation = flow / reference \u{2212} 1. Check one row of your table: " (blank()) }
                li { "Is n near 0.5 or nearer to 1? What does that say of the coating in the tip? " (blank()) }
                li { "Somebody's tip passes a tenth more at every pressure. Name two causes, and the one trial that tells them apart: " (blank()) }
            }
        }
    }
}

fn blank() -> Markup {
    html! { span.blank {} }
}

fn place(class: &ClassFindings, show: Show, i: usize, s: &Student) -> Markup {
    let Some(result) = &s.result else {
        return html! {
            section { h2 { "Your place" } p { (sentence(&words::reference(class, show))) } }
        };
    };
    let Some(deviation) = words::deviation(show, i, s) else {
        return html! {
            section { h2 { "Your place" } p { "No usable burst, no number." } }
        };
    };
    let mut line = say![
        "Flow against the reference at the same pressure: ",
        deviation
    ];
    if let Some(interval) = super::interval_of(result) {
        let key = |m: &str| format!("/students/{i}/{m}");
        let half = Some(0.5 * (interval.high - interval.low));
        line.push(say![
            " (",
            show.deviation(interval.low, half, key("deviation_low_95_ratio")),
            " to ",
            show.deviation(interval.high, half, key("deviation_high_95_ratio"))
                .with_unit("%"),
            ")"
        ]);
    }
    if let Some(z) = result.z {
        line.push(say![
            "; z = ",
            show.bare_fixed(Kind::Plain, z, 1, format!("/students/{i}/z")),
            ", ",
            words::score_word(result.word)
        ]);
    }
    line.push(".");
    html! {
        section.place {
            h2 { "Your place" }
            p { (sentence(&line)) }
            p.caption { (sentence(&words::reference(class, show))) " " (sentence(&words::scale(class, show))) }
        }
    }
}
