//! The page of a cordless check: the answer first, then curves, tables, method.

use maud::{DOCTYPE, Markup, html};

use super::{ENDURANCE_RESULT, tables, words};
use crate::energy_findings::{BatteryFindings, EnduranceFindings};
use crate::report::cautions::Caution;
use crate::report::figure::{FigureError, SupplyLine, Width, draw_energy, draw_supply};
use crate::report::html::{
    caution, figure, head, made_by, method, safety, sentence, style_page, table,
};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, printable, quoted, say};
use crate::report::view::{FigureView, MethodItem};
use crate::report::{ReportError, wording::count};

/// The page.
pub(super) fn page(
    found: &EnduranceFindings,
    show: Show,
    made_at: Option<&str>,
) -> Result<String, ReportError> {
    let all: Vec<&BatteryFindings> = std::iter::once(&found.first).chain(&found.other).collect();
    let supply = supply_figure(found, show)?;
    let mut energies = Vec::new();
    for (i, b) in all.iter().enumerate() {
        energies.extend(energy_figure(i, b, show)?);
    }
    let title = format!("Cordless check {}", found.first.recordings.join(", "));
    Ok(html! {
        (DOCTYPE)
        html lang="en" {
            (head(&printable(&title), style_page()))
            body {
                a.skip href="#answer" { "To the answer" }
                (masthead(found))
                main {
                    section #answer aria-label="Answer" {
                        @for (i, b) in all.iter().enumerate() { (answer(found, i, b, show)) }
                        (comparison(found, show))
                    }
                    @if let Some(f) = &supply { (figure(f)) }
                    @for f in &energies { (figure(f)) }
                    @for (i, b) in all.iter().enumerate() {
                        @for t in [tables::tips(show, i, b), tables::settings(show, i, b)] {
                            @if !t.rows.is_empty() { (table(&t)) }
                        }
                    }
                    (safety())
                    div.tables { (method(&methods())) }
                }
                (made_by(made_at, ENDURANCE_RESULT))
            }
        }
    }
    .into_string())
}

fn masthead(found: &EnduranceFindings) -> Markup {
    let mut line = Sentence::default();
    if let Some(rig) = &found.first.rig {
        line.push(say![quoted(rig), " \u{b7} "]);
    }
    line.push(say![
        "recorded as ",
        quoted(&found.first.recordings.join(", "))
    ]);
    if let Some(other) = &found.other {
        line.push(say![" and ", quoted(&other.recordings.join(", "))]);
    }
    let all = || std::iter::once(&found.first).chain(&found.other);
    html! {
        header.mast {
            h1 { "Cordless check" }
            p.line { (sentence(&line)) }
            @if all().any(|b| b.is_simulated) {
                p.notice { strong { "Simulated data. " }
                    "A simulated rig made this recording. No paint was sprayed; do not judge a real battery by it." }
            }
            @if all().any(|b| b.is_nominal_meter) {
                p.notice { strong { "Meter not calibrated. " }
                    "Flow, and all that rests on it, carries the meter maker's nominal constant." }
            }
        }
    }
}

fn answer(found: &EnduranceFindings, i: usize, b: &BatteryFindings, show: Show) -> Markup {
    let key = format!("/batteries/{i}");
    let is_known = words::largest_held(b).is_some() && !b.run_times.is_empty();
    let class = match (is_known, i) {
        (true, 0) => "open subject",
        (true, _) => "open",
        (false, 0) => "unknown subject",
        (false, _) => "unknown",
    };
    html! {
        article.verdict class=(class) {
            div.answer {
                p.setting {
                    @if i > 0 { "Second battery: " }
                    (sentence(&quoted(&b.recordings.join(", ")).into()))
                }
                h2.headline { (sentence(&words::headline(b, &key, show))) }
                @for line in words::basis(found, b, show) { p.why { (sentence(&line)) } }
                @if let Some(c) = &b.charge {
                    @for line in words::charge(c, &key, show) { p.because { (sentence(&line)) } }
                }
                (facts(b, &key, show))
            }
            @if !b.energy.missing.is_empty() {
                div.todo {
                    div.do {
                        h3 { "Missing" }
                        ul { @for m in &b.energy.missing { li { (words::missing(*m)) } } }
                        (caution(Caution::HandsAtSensor.text()))
                    }
                }
            }
            @if i == 0 { (caution(Caution::Battery.text())) }
        }
    }
}

fn facts(b: &BatteryFindings, key: &str, show: Show) -> Markup {
    let at = |m: &str| format!("{key}/{m}");
    let mut list: Vec<(&'static str, Sentence)> = Vec::new();
    if let Some(s) = b.main.and_then(|i| b.energy.settings.get(i)) {
        let index = b.main.unwrap_or_default();
        if let Ok(e) = &s.efficiency {
            let key = at(&format!("settings/{index}/efficiency_ratio"));
            list.push(("Efficiency", show.estimate(Kind::Percent, e, &key)));
        }
    }
    if let Some(w) = &b.energy.stalled_w {
        let text = show.estimate(Kind::Power, w, &at("stalled_w"));
        list.push(("Drawn in pauses", text));
    }
    if let Some(r) = &b.energy.resistance_ohm {
        let text = show.estimate(Kind::Resistance, r, &at("resistance_ohm"));
        list.push(("Resistance", text));
    }
    if let Some((drawn, _)) = b.energy.drawn {
        let mut text = show.plain(Kind::Charge, drawn, at("drawn_a_s"));
        if let (Some(nominal), Some(ratio)) = (b.nominal_a_s, words::drawn_ratio(b)) {
            text.push(say![
                ", ",
                show.fixed(Kind::Percent, ratio, 0, at("drawn_ratio")),
                " of ",
                show.plain(Kind::Charge, nominal, at("nominal_a_s"))
            ]);
        }
        list.push(("Charge drawn", text));
    }
    html! {
        @if !list.is_empty() {
            dl.facts { @for (name, value) in &list { div { dt { (name) } dd { (sentence(value)) } } } }
        }
    }
}

fn comparison(found: &EnduranceFindings, show: Show) -> Markup {
    let Some(comparison) = &found.comparison else {
        return html! {};
    };
    html! {
        article.verdict.unknown {
            div.answer {
                h2.headline { "Two batteries" }
                @match comparison {
                    Ok((tip, material, lines)) => {
                        p.setting { "Compared with " (sentence(&words::setting(tip, material))) " at full control" }
                        ul {
                            @for (i, line) in lines.iter().enumerate() {
                                li { (sentence(&words::compared(i, line, show))) }
                            }
                        }
                    }
                    Err(refusal) => p.why { (sentence(&words::compare_refusal(refusal))) }
                }
            }
        }
    }
}

fn drawn(e: FigureError) -> ReportError {
    ReportError::Figure { what: e.what }
}

fn supply_figure(found: &EnduranceFindings, show: Show) -> Result<Option<FigureView>, ReportError> {
    let names = ["first battery", "second battery"];
    let all = std::iter::once(&found.first).chain(&found.other);
    let lines: Vec<SupplyLine> = all
        .zip(names)
        .filter_map(|(b, name)| {
            let curve = b.supply.as_ref()?;
            Some(SupplyLine {
                name,
                points: curve
                    .points
                    .iter()
                    .map(|p| (p.flow_m3_per_s.value, p.pressure_pa.value))
                    .collect(),
                curve,
            })
        })
        .collect();
    let rated = found.first.rated_pa;
    let draw = |w| draw_supply(&lines, rated, show, w).map_err(drawn);
    let (Some(wide), Some(narrow)) = (draw(Width::Wide)?, draw(Width::Narrow)?) else {
        return Ok(None);
    };
    let n: usize = lines.iter().map(|l| l.points.len()).sum();
    Ok(Some(FigureView {
        id: "supply".to_owned(),
        file: "supply.svg".to_owned(),
        title: "What the pump can push",
        caption: say![
            "Supply curve at full control: the highest pressure held against flow. Marks: ",
            count(
                show,
                found.first.supply.as_ref().map_or(0, |s| s.points.len()),
                "/batteries/0/supply/n_bursts"
            ),
            " bursts",
            if found.other.is_some() {
                " with the first battery."
            } else {
                "."
            },
            " Points lower down at one flow were sprayed when the battery was emptier."
        ],
        description: format!(
            "Pressure held at full control against flow, {n} bursts. The numbers stand in the table of settings."
        ),
        wide,
        narrow,
        paper: None,
    }))
}

fn energy_figure(
    i: usize,
    b: &BatteryFindings,
    show: Show,
) -> Result<Option<FigureView>, ReportError> {
    let draw = |w| draw_energy(&b.energy, show, w).map_err(drawn);
    let (Some(wide), Some(narrow)) = (draw(Width::Wide)?, draw(Width::Narrow)?) else {
        return Ok(None);
    };
    Ok(Some(FigureView {
        id: ["energy", "energy-2"][i.min(1)].to_owned(),
        file: "energy.svg".to_owned(),
        title: ["As the battery empties", "As the second battery empties"][i.min(1)],
        caption: Sentence::from(crate::report::view::ENERGY_CAPTION),
        description: format!(
            "Power, sag and battery voltage of {} bursts against the charge drawn. The numbers stand in the table \
             of settings.",
            b.energy.points.len()
        ),
        wide,
        narrow,
        paper: None,
    }))
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
            "Power and efficiency",
            "efficiency = p q / (v i)",
            "Mean of each setting's bursts. Voltage is taken as known to 1 %, current to 2 % (common practice, no \
             source).",
            "power is pressure times flow, and voltage times current; JCGM 100:2008 for the combination",
        ),
        item(
            "Run time",
            "t = Q v usable / (share W(spraying) + (1 \u{2212} share) W(pause))",
            "Q is the charge printed on the battery (known to 5 %), v the mean voltage under load where a good \
             part of a charge was measured, else the printed one.",
            "energy over power; interval by Fieller's theorem",
        ),
        item(
            "Charge and resistance",
            "Q = \u{222b} i dt, R = (v(rest) \u{2212} v(load)) / (i(load) \u{2212} i(rest))",
            "Trapezium rule; a stretch without readings is not bridged but counted. The resistance is what a pull \
             of some seconds sees.",
            "derived",
        ),
        item(
            "Tips",
            "q(p) of the tip = supply curve",
            "The tip's nozzle curve, measured or carried over by the ratio of orifices, is crossed with the supply \
             curve and held against the lowest tail-free pressure.",
            "as in the report and the plan",
        ),
    ]
}
