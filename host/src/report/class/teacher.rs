//! The teacher's page: the answer first, then who stands where, the answers to the worksheets, the method.

use maud::{DOCTYPE, Markup, html};

use super::{CLASS_PAGE, CLASS_RESULT, pictures, words};
use crate::analysis::class::Precision;
use crate::class_findings::{ClassFindings, Student};
use crate::report::cautions::Caution;
use crate::report::html::{
    caution, figure, head, made_by, method, safety, sentence, style_page, table,
};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::report::view::{MethodItem, Row, Table, numbers, words as column};
use crate::report::wording::{capitalised, count};
use crate::report::{ReportError, ReportFile};

/// The page.
pub(super) fn page(
    class: &ClassFindings,
    show: Show,
    made_at: Option<&str>,
) -> Result<ReportFile, ReportError> {
    let title = class.title.clone().unwrap_or_else(|| "Class".to_owned());
    let figures = [pictures::places(class)?, pictures::curves(class, show)?];
    let tables = [
        students(class, show),
        asides(class, show),
        answers(class, show),
    ];
    let text = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&printable(&title), style_page()))
            body {
                a.skip href="#answer" { "To the answer" }
                (masthead(class, show, &title))
                main {
                    (answer(class, show))
                    @for f in figures.iter().flatten() { (figure(f)) }
                    @for t in tables.iter().filter(|t| !t.rows.is_empty()) { (table(t)) }
                    (sheets(class))
                    (safety())
                    div.tables { (method(&methods())) }
                }
                (made_by(made_at, CLASS_RESULT))
            }
        }
    };
    Ok(ReportFile {
        name: CLASS_PAGE.to_owned(),
        text: text.into_string(),
    })
}

fn masthead(class: &ClassFindings, show: Show, title: &str) -> Markup {
    let mut line = Sentence::default();
    if !class.dates.is_empty() {
        line.push(say![quoted(&class.dates.join(", ")), " \u{b7} "]);
    }
    if let Some(s) = &class.setting {
        line.push(say![words::setting(show, s), " \u{b7} "]);
    }
    line.push(say![
        count(show, class.students.len(), "/class/n_students"),
        if class.students.len() == 1 {
            " student on the roster"
        } else {
            " students on the roster"
        }
    ]);
    html! {
        header.mast {
            h1 { (sentence(&quoted(title).into())) }
            p.line { (sentence(&line)) }
            @if class.is_blind {
                p.notice { strong { "Blind. " } "Codes stand for names; the key is in a file of its own." }
            }
            @for (i, n) in class.notices.iter().enumerate() {
                @let (heading, text) = words::notice(show, n, &format!("/notices/{i}"));
                p.notice { strong { (heading) ". " } (sentence(&text)) }
            }
        }
    }
}

fn answer(class: &ClassFindings, show: Show) -> Markup {
    let out = words::standing_out(class, show);
    let is_settled = super::n_agree(class).is_some() && out.is_empty();
    let state = match (class.reference.is_ok(), is_settled) {
        (false, _) => "unknown",
        (true, true) => "open",
        (true, false) if out.is_empty() => "unknown",
        (true, false) => "limit",
    };
    html! {
        section #answer aria-label="Answer" {
            article.verdict.subject class=(state) {
                div.answer {
                    h2.headline { (sentence(&words::headline(class, show))) }
                    @for line in &out { p.why { (sentence(line)) } }
                    p.because { (sentence(&words::reference(class, show))) }
                    @if class.reference.is_ok() { p.because { (sentence(&words::scale(class, show))) } }
                    (precision(class, show))
                }
                @if !out.is_empty() {
                    div.todo {
                        div.do {
                            h3 { "Look into" }
                            ul { @for line in words::look_into() { li { (sentence(&line)) } } }
                            (caution(Caution::HandsAtTip.text()))
                        }
                    }
                }
            }
        }
    }
}

fn precision(class: &ClassFindings, show: Show) -> Markup {
    match &class.precision {
        Ok(p) => html! {
            dl.facts {
                @for (name, value) in facts(p, show) { div { dt { (name) } dd { (sentence(&value)) } } }
            }
        },
        Err(refusal) => html! { p.because { (words::precision_refusal(*refusal)) } },
    }
}

fn facts(p: &Precision, show: Show) -> Vec<(&'static str, Sentence)> {
    let sd = |value: f64, low: f64, high: f64, name: &str| {
        let key = |m: &str| format!("/precision/{name}/{m}");
        say![
            show.rounded(Kind::Percent, value, 0.5 * (high - low), key("value")),
            " (",
            show.between(Kind::Percent, (low, key("low_95")), (high, key("high_95"))),
            ")"
        ]
    };
    let (r, big) = (&p.repeatability_sd, &p.reproducibility_sd);
    let limit = |value, name: &str| show.plain(Kind::Percent, value, format!("/precision/{name}"));
    vec![
        (
            "Repeatability (standard deviation)",
            sd(
                r.value,
                r.interval_95.low,
                r.interval_95.high,
                "repeatability_sd_ratio",
            ),
        ),
        (
            "Reproducibility (standard deviation)",
            sd(
                big.value,
                big.interval_95.low,
                big.interval_95.high,
                "reproducibility_sd_ratio",
            ),
        ),
        (
            "Two bursts of one student: 19 of 20 closer than",
            limit(p.repeatability_limit, "repeatability_limit_ratio"),
        ),
        (
            "Of two students: 19 of 20 closer than",
            limit(p.reproducibility_limit, "reproducibility_limit_ratio"),
        ),
    ]
}

fn nothing() -> Sentence {
    Sentence::from("\u{2013}")
}

fn students(class: &ClassFindings, show: Show) -> Table {
    let with_bench = !class.is_blind
        && class
            .students
            .iter()
            .any(|s| s.recordings.iter().any(|r| r.bench.is_some()));
    let mut columns = vec![column("Student")];
    if with_bench {
        columns.push(column("Bench"));
    }
    columns.extend([
        numbers("Bursts", ""),
        numbers("Deviation", "%"),
        numbers("95 % interval", "%"),
        numbers("z", ""),
        column("Score"),
        numbers("h", ""),
        numbers("k", ""),
        numbers("Exponent n", ""),
        numbers("Tails gone", show.symbol(Kind::Pressure)),
    ]);
    Table {
        id: "students",
        title: "Students",
        caption: students_caption(class, show),
        columns,
        rows: class
            .students
            .iter()
            .enumerate()
            .map(|(i, s)| student_row(show, i, s, with_bench))
            .collect(),
    }
}

fn students_caption(class: &ClassFindings, show: Show) -> Sentence {
    let mut out = Sentence::from(
        "h: how far a student's mean stands from the others'; k: how much a student's bursts scatter against \
         the others'.",
    );
    let Ok(p) = &class.precision else { return out };
    if let Some(h) = p.h_critical {
        out.push(say![
            " At 5 %, h beyond ",
            show.bare_fixed(Kind::Plain, h, 2, "/precision/h_critical"),
            " stands out"
        ]);
        if let Some(k) = p.k_critical {
            out.push(say![
                " and k beyond ",
                show.bare_fixed(Kind::Plain, k, 2, "/precision/k_critical")
            ]);
        }
        out.push(".");
    }
    out
}

fn student_row(show: Show, i: usize, s: &Student, with_bench: bool) -> Row {
    let key = |m: &str| format!("/students/{i}/{m}");
    let result = s.result.as_ref();
    let plain = |value: Option<f64>, decimals, name: &str| {
        value.map_or_else(nothing, |v| {
            say![show.bare_fixed(Kind::Plain, v, decimals, key(name))]
        })
    };
    let deviation = result.and_then(|r| r.deviation).map(f64::exp_m1);
    let interval = result.and_then(super::interval_of);
    let half = interval.map(|i| 0.5 * (i.high - i.low));
    let trial = s
        .recordings
        .iter()
        .enumerate()
        .find_map(|(j, r)| Some((j, r.trial.as_ref().ok()?)));
    let exponent = trial.and_then(|(j, t)| Some((j, t.curve.as_ref().ok()?.power_law.n)));
    let mut cells = vec![say![quoted(&s.label)]];
    if with_bench {
        let benches: Vec<&str> = s
            .recordings
            .iter()
            .filter_map(|r| r.bench.as_deref())
            .collect();
        cells.push(say![quoted(&benches.join(", "))]);
    }
    let score = match result {
        Some(r) if r.word.is_some() => capitalised(words::score_word(r.word)),
        Some(r) => capitalised(words::standing(r.standing)),
        None => String::new(),
    };
    cells.extend([
        count(show, result.map_or(0, |r| r.n_bursts), key("n_bursts")),
        deviation.map_or_else(nothing, |d| {
            say![show.deviation(d, half, key("deviation_ratio"))]
        }),
        interval.map_or_else(nothing, |i| {
            say![
                show.deviation(i.low, half, key("deviation_low_95_ratio")),
                " to ",
                show.deviation(i.high, half, key("deviation_high_95_ratio"))
            ]
        }),
        plain(result.and_then(|r| r.z), 1, "z"),
        Sentence::from(score),
        plain(result.and_then(|r| r.h), 2, "h"),
        plain(result.and_then(|r| r.k), 2, "k"),
        exponent.map_or_else(nothing, |(j, n)| {
            let key = key(&format!("recordings/{j}/curve/n/value"));
            say![show.bare_rounded(Kind::Plain, n.value, n.expanded_95(), key)]
        }),
        trial
            .and_then(|(j, t)| Some((j, t.tail_free_pa?)))
            .map_or_else(nothing, |(j, pa)| {
                let key = key(&format!("recordings/{j}/tail_free_pa"));
                say![show.bare_fixed(Kind::Pressure, pa, setting_decimals(show), key)]
            }),
    ]);
    Row {
        id: format!("student-{}", i + 1),
        is_quiet: result.is_none_or(|r| r.n_bursts == 0),
        cells,
    }
}

const fn setting_decimals(show: Show) -> i32 {
    crate::report::number::setting_decimals(show.units.pressure)
}

fn asides(class: &ClassFindings, show: Show) -> Table {
    let mut rows = Vec::new();
    for (i, s) in class.students.iter().enumerate() {
        for (j, r) in s.recordings.iter().enumerate() {
            let key = format!("/students/{i}/recordings/{j}");
            let why = match &r.trial {
                Err(a) => words::aside(show, a, &format!("{key}/aside")),
                Ok(t) => match &t.curve {
                    Err(refusal) => {
                        let at = format!("{key}/curve_refusal");
                        let mut out = crate::report::wording::refusal(show, refusal, &at);
                        out.push(" The bursts still count.");
                        out
                    }
                    Ok(_) => continue,
                },
            };
            rows.push(Row {
                id: String::new(),
                is_quiet: false,
                cells: vec![say![quoted(&s.label)], say![quoted(&r.name)], why],
            });
        }
    }
    Table {
        id: "aside",
        title: "Set aside, and what would help",
        caption: Sentence::default(),
        columns: vec![column("Student"), column("Recording"), column("Why")],
        rows,
    }
}

fn answers(class: &ClassFindings, show: Show) -> Table {
    let rows = class
        .students
        .iter()
        .enumerate()
        .filter_map(|(i, s)| {
            let e = s.exercise?;
            let key = |m: &str| format!("/students/{i}/exercise/{m}");
            let points = &s
                .recordings
                .get(e.recording_index)?
                .trial
                .as_ref()
                .ok()?
                .points;
            let number = |index: usize, name: &str| {
                let n = points.get(index).map_or(0, |p| p.burst_index + 1);
                count(show, n, key(name))
            };
            Some(Row {
                id: String::new(),
                is_quiet: false,
                cells: vec![
                    say![quoted(&s.label)],
                    say![
                        number(e.low_index, "low_number"),
                        " and ",
                        number(e.high_index, "high_number")
                    ],
                    say![show.bare_fixed(Kind::Plain, e.exponent, 2, key("exponent"))],
                    say![show.bare_fixed(Kind::Plain, e.doubling_ratio, 2, key("doubling_ratio"))],
                ],
            })
        })
        .collect();
    Table {
        id: "answers",
        title: "Answers to the worksheets",
        caption: Sentence::from(
            "Question 1: the exponent from the two bursts named on the sheet. Question 2: how many times the \
             flow when the pressure is doubled. The deviations of question 3 stand in each sheet's table. An \
             exponent from two bursts scatters more than the fitted one in the table above.",
        ),
        columns: vec![
            column("Student"),
            numbers("Bursts", ""),
            numbers("1: exponent", ""),
            numbers("2: doubling", ""),
        ],
        rows,
    }
}

fn sheets(class: &ClassFindings) -> Markup {
    html! {
        section #sheets aria-labelledby="sheets-title" {
            h2 #sheets-title { "Worksheets" }
            p.caption { "One page each, to print and hand out." }
            ul {
                @for (i, s) in class.students.iter().enumerate() {
                    li { a href=(super::sheet_name(i, s)) { (sentence(&quoted(&s.label).into())) } }
                }
            }
        }
    }
}

fn methods() -> Vec<MethodItem> {
    let item = |heading, formula, text: &str, source| MethodItem {
        heading,
        formula,
        text: Sentence::from(text),
        source,
    };
    vec![
        item(
            "Deviation",
            "d = ln(q / q(reference, same pressure))",
            "One number a burst, so that bursts at different pressures can be averaged. Shown as percent of flow.",
            "derived",
        ),
        item(
            "Reference from the class",
            "u = 1.25 s / \u{221a}p",
            "Robust mean and standard deviation s of the students' curves at one pressure, and of their \
             exponents: values more than one and a half standard deviations out are drawn in until nothing moves.",
            "ISO 13528:2022, 7.7 and annex C (algorithm A)",
        ),
        item(
            "z-score",
            "z = d / \u{3c3}",
            "Up to 2 satisfactory, up to 3 questionable, from 3 unsatisfactory.",
            "ISO 13528:2022, 9.4",
        ),
        item(
            "Repeatability and reproducibility",
            "s(R)\u{b2} = s(r)\u{b2} + s(students)\u{b2} + s(benches)\u{b2}",
            "Components of variance by restricted likelihood, so that unequal numbers of bursts are allowed; \
             benches apart from students where the class can tell them apart. Limits are 2.8 standard deviations.",
            "ISO 5725-2:2019 and 5725-6",
        ),
        item(
            "h and k",
            "h = (mean \u{2212} mean of means) / s(means), k = s / s(pooled)",
            "Who differs, and who scatters. Critical values at 5 %.",
            "ISO 5725-2:2019, 8.3.1",
        ),
    ]
}
