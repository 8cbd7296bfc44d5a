//! Every number on a page stands in `result.json`, and the page shows that very number.

use std::collections::HashSet;

use serde_json::Value;
use tipcurve::units::{FlowUnit, PressureUnit, UnitChoice};

use super::page::{Element, Page};
use super::{all_findings, file, files, pages, readers};

/// What a shown unit multiplies, independently of the program's own conversion: NIST SP 811.
fn per_si(unit: &str) -> (f64, f64) {
    let plain = |factor| (factor, 0.0);
    match unit {
        "" | "s" | "Hz" | "V" | "A" | "W" | "K" | "m/s" | "kg" => plain(1.0),
        "bar" => plain(1e-5),
        "psi" => plain(1.0 / 6894.757),
        "MPa" => plain(1e-6),
        "L/min" => plain(6e4),
        "US gal/min" => plain(60.0 / 3.785_412e-3),
        "°C" => (1.0, -273.15),
        "mm" => plain(1e3),
        "thou" => plain(1e3 / 0.0254),
        "µm" => plain(1e6),
        "%" => plain(1e2),
        "pulses/L" => plain(1e-3),
        "bar/(L/min)" => plain(1e-5 / 6e4),
        "bar/(L/min)²" => plain(1e-5 / 6e4 / 6e4),
        "psi/(gal/min)" => plain(3.785_412e-3 / 60.0 / 6894.757),
        "psi/(gal/min)²" => plain((3.785_412e-3f64 / 60.0).powi(2) / 6894.757),
        other => panic!("unit {other:?} is not known to the test"),
    }
}

/// Number and unit as shown; the step is that of the last place shown.
fn shown(text: &str) -> (f64, f64, String) {
    let (digits, unit) = text.split_once('\u{a0}').unwrap_or((text, ""));
    let digits = digits.replace('\u{202f}', "").replace('\u{2212}', "-");
    let value: f64 = digits.parse().unwrap_or_else(|_| panic!("{text:?}"));
    let step = match digits.split_once('.') {
        Some((_, fraction)) => 0.1f64.powi(i32::try_from(fraction.len()).unwrap()),
        // A whole number may have been rounded to tens or hundreds.
        None => {
            let zeros = digits.len() - digits.trim_end_matches('0').len();
            10f64.powi(i32::try_from(zeros.min(digits.len() - 1)).unwrap())
        }
    };
    (value, step, unit.to_owned())
}

/// The unit of a number in a table whose head carries it.
fn unit_of_column(page: &Page, number: &Element) -> Option<String> {
    let key = number.attribute("data-key")?;
    page.all("table").iter().find_map(|table| {
        let heads: Vec<String> = table
            .all("thead")
            .first()?
            .all("th")
            .iter()
            .map(Element::text)
            .collect();
        table.all("tr").iter().skip(1).find_map(|row| {
            let cells: Vec<Element> = row
                .children()
                .into_iter()
                .filter(|c| ["td", "th"].contains(&c.name().as_str()))
                .collect();
            let column = cells.iter().position(|c| {
                c.all("data")
                    .iter()
                    .any(|d| d.attribute("data-key").as_deref() == Some(&key))
            })?;
            Some(
                heads[column]
                    .rsplit_once(", ")
                    .map_or("", |(_, unit)| unit)
                    .to_owned(),
            )
        })
    })
}

fn check_numbers(name: &str, text: &str, result: &Value) {
    let page = Page::parse(text);
    let numbers = page.all("data");
    assert!(!numbers.is_empty(), "{name}: no number at all");
    for number in &numbers {
        let key = number.attribute("data-key").unwrap();
        let si: f64 = number.attribute("value").unwrap().parse().unwrap();
        let stored = result
            .pointer(&key)
            .unwrap_or_else(|| panic!("{name}: {key} is not in result.json"));
        let stored = stored
            .as_f64()
            .unwrap_or_else(|| panic!("{name}: {key} is {stored}, not a number"));
        assert!(
            (stored - si).abs() <= 1e-12 * si.abs(),
            "{name}: {key}: {stored} against {si}"
        );
        let (value, step, unit) = shown(&number.text());
        let unit = if unit.is_empty() {
            unit_of_column(&page, number).unwrap_or_default()
        } else {
            unit
        };
        let unit = if ["Logger time", "tip", "coating"].contains(&unit.as_str()) {
            String::new()
        } else {
            unit
        };
        // An interval and a plus-minus carry their unit once, at the second number.
        let candidates: Vec<String> = if unit.is_empty() {
            [
                "",
                "bar",
                "psi",
                "MPa",
                "L/min",
                "US gal/min",
                "°C",
                "mm",
                "thou",
                "µm",
                "%",
                "pulses/L",
                "bar/(L/min)",
                "bar/(L/min)²",
                "psi/(gal/min)",
                "psi/(gal/min)²",
            ]
            .map(str::to_owned)
            .to_vec()
        } else {
            vec![unit]
        };
        let fits = candidates.iter().any(|unit| {
            let (factor, offset) = per_si(unit);
            (si * factor + offset - value).abs() <= step * 1.000_001
        });
        assert!(
            fits,
            "{name}: {key} is {si} in SI and shown as {:?}",
            number.text()
        );
    }
}

#[test]
fn every_number_on_a_page_is_the_one_at_its_place_in_the_results() {
    for findings in all_findings() {
        for units in readers() {
            let files = files(&findings, &units);
            let result: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
            for page in pages(&files) {
                let name = format!("{} {}", findings.name, page.name);
                check_numbers(&name, &page.text, &result);
            }
        }
    }
}

/// Numbers that belong to a formula's explanation in words and to the page's one confidence level.
const NOT_RESULTS: [&str; 3] = ["(GUM)", "near 0.5 for", "towards 1 with"];

/// Digits outside of marked numbers are names that a user gave, or belong to a formula or its source.
#[test]
fn no_number_hides_in_the_words() {
    for findings in all_findings() {
        let files = files(&findings, &readers()[0]);
        let result: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
        assert_eq!(result["rules"]["coverage_ratio"], 0.95);
        let mut strings = HashSet::new();
        gather_strings(&result, &mut strings);
        for page in pages(&files) {
            let tree = Page::parse(&page.text);
            for quoted in tree.all("span").iter().filter(|s| s.has_class("q")) {
                assert!(
                    strings.contains(&quoted.text()),
                    "{}: {:?} is not in result.json",
                    findings.name,
                    quoted.text()
                );
            }
            let body = &tree.all("body")[0];
            let rest = body.text_without(&|e| {
                // What drawings say has a test of its own below.
                ["data", "svg", "style"].contains(&e.name().as_str())
                    || ["q", "formula", "source"].iter().any(|c| e.has_class(c))
            });
            let mut rest = rest.replace(&findings.name, "").replace("95 %", "");
            for known in NOT_RESULTS {
                rest = rest.replace(known, "");
            }
            let left = words_with_digits(&rest);
            assert!(left.is_empty(), "{} {}: {left:?}", findings.name, page.name);
        }
    }
}

fn words_with_digits(text: &str) -> Vec<&str> {
    text.split_whitespace()
        .filter(|word| word.contains(|c: char| c.is_ascii_digit()))
        .collect()
}

/// Where the number in a figure's label stands; any other number in words must be the user's own word.
fn values_in_labels(figure: &str, result: &Value) -> Vec<f64> {
    let list = |key: &str| result[key].as_array().unwrap().clone();
    let found: Vec<Value> = if figure.starts_with("window") {
        let windows = list("groups").into_iter().map(|g| g["window"].clone());
        windows.map(|w| w["recommended_pa"].clone()).collect()
    } else if figure == "stripes" {
        let lines = list("stripes").into_iter();
        lines.map(|l| l["overlap_ratio"].clone()).collect()
    } else {
        Vec::new()
    };
    found.iter().filter_map(Value::as_f64).collect()
}

/// Whether a label without number words is left once the user's own words and the known values are taken out.
fn is_known_label(label: &str, strings: &[&String], values: &[f64]) -> bool {
    let mut rest = label.to_owned();
    for own in strings.iter().filter(|s| !s.is_empty()) {
        rest = rest.replace(own.as_str(), " ");
    }
    if words_with_digits(&rest).is_empty() {
        return true;
    }
    let digits = label.find(|c: char| c.is_ascii_digit()).unwrap();
    let (value, step, unit) = shown(&label[digits..]);
    let (factor, offset) = per_si(&unit);
    let is_it = |si: &f64| (si * factor + offset - value).abs() <= step * 1.000_001;
    !unit.is_empty() && values.iter().any(is_it)
}

/// Labels of the drawings: a number with words beside it is a result at its place or a name that the user gave.
/// A number alone is a tick of an axis, the number of a burst or a name; it is checked to be one of these.
#[test]
fn no_number_hides_in_the_drawings() {
    let (mut labels, mut alone) = (0, 0);
    for findings in all_findings() {
        for units in readers() {
            let files = files(&findings, &units);
            let result: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
            let mut strings = HashSet::new();
            gather_strings(&result, &mut strings);
            // The longest first: "415 b" is taken out before "415".
            let mut strings: Vec<&String> = strings.iter().collect();
            strings.sort_by_key(|s| std::cmp::Reverse(s.len()));
            let bursts = result["bursts"].as_array().unwrap().iter();
            let bursts: HashSet<String> = bursts.map(|b| b["number"].to_string()).collect();
            let tree = Page::parse(file(&files, "report.html"));
            for figure in tree.all("figure") {
                let id = figure.attribute("id").unwrap();
                let values = values_in_labels(&id, &result);
                for drawing in figure.all("svg") {
                    let texts: Vec<String> = drawing
                        .all("text")
                        .iter()
                        .map(|t| t.text().trim().to_owned())
                        .collect();
                    for text in &texts {
                        if words_with_digits(text).is_empty() {
                            continue;
                        }
                        let is_alone = !text.contains(char::is_alphabetic) && !text.contains('%');
                        if is_alone {
                            alone += 1;
                            let has_steps = is_step_of_an_axis(text, &texts);
                            assert!(
                                has_steps || bursts.contains(text) || strings.contains(&text),
                                "{} {id}: {text:?} is neither tick nor burst nor name",
                                findings.name
                            );
                        } else {
                            labels += 1;
                            assert!(
                                is_known_label(text, &strings, &values),
                                "{} {id}: {text:?} is not in result.json",
                                findings.name
                            );
                        }
                    }
                }
            }
        }
    }
    assert!(labels > 100 && alone > 100, "{labels} {alone}");
}

/// A tick is a whole number of round steps (1, 2 or 5 times a power of ten), and its neighbour is one such step away.
fn is_step_of_an_axis(text: &str, texts: &[String]) -> bool {
    let number = |t: &str| {
        let plain = t.replace('\u{202f}', "").replace('\u{2212}', "-");
        plain.parse::<f64>().ok()
    };
    let Some(own) = number(text) else {
        return false;
    };
    let is_whole = |x: f64| (x - x.round()).abs() < 1e-6;
    texts
        .iter()
        .filter_map(|t| number(t))
        .map(|other| (other - own).abs())
        .filter(|step| *step > 1e-9)
        .any(|step| {
            let first_digit = step / 10f64.powf((step.log10() + 1e-9).floor());
            let is_round = [1.0, 2.0, 5.0]
                .iter()
                .any(|d| (first_digit - d).abs() < 1e-6);
            is_round && is_whole(own / step)
        })
}

/// The lines of the figure of stripes, read back from the drawing by its own axes, are the numbers in `result.json`.
#[test]
fn the_stripes_drawn_are_those_in_the_results() {
    let mut drawn = 0;
    for findings in all_findings() {
        let files = files(&findings, &readers()[0]);
        let result: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
        let lines = result["stripes"].as_array().unwrap();
        let Some(svg) = files.iter().find(|f| f.name.ends_with("stripes.svg")) else {
            assert!(lines.is_empty(), "{}", findings.name);
            continue;
        };
        assert!(lines.len() >= 2, "{}", findings.name);
        let tree = Page::parse(&svg.text);
        let heights = heights_drawn(&tree, 2.4 * 10.0);
        let film: Vec<f64> = numbers(&lines[0]["film_ratio"]);
        let at =
            |list: &[f64], pick: fn(f64, f64) -> f64| list.iter().copied().reduce(pick).unwrap();
        for pick in [f64::min as fn(f64, f64) -> f64, f64::max] {
            // A tenth of a pixel of 160 on about 1.1 of film.
            let (seen, kept) = (at(&heights, pick), at(&film, pick));
            assert!(
                (seen - kept).abs() < 0.003,
                "{}: {seen} {kept}",
                findings.name
            );
        }
        assert_eq!(
            lines[0]["least_film_ratio"].as_f64().unwrap(),
            at(&film, f64::min)
        );
        assert_eq!(
            lines[0]["greatest_film_ratio"].as_f64().unwrap(),
            at(&film, f64::max)
        );
        drawn += 1;
    }
    assert!(drawn > 0);
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

/// Film over its mean along the lines of one stroke width, from pixels by the ticks of the vertical axis.
fn heights_drawn(tree: &Page, stroke: f64) -> Vec<f64> {
    let number = |e: &Element, name: &str| e.attribute(name).and_then(|v| v.parse::<f64>().ok());
    let ticks: Vec<(f64, f64)> = tree
        .all("text")
        .iter()
        .filter(|t| t.attribute("text-anchor").as_deref() == Some("end"))
        .filter_map(|t| Some((t.text().trim().parse().ok()?, number(t, "y")?)))
        .collect();
    let (low, high) = (ticks[0], ticks[ticks.len() - 1]);
    let per_px = (high.0 - low.0) / (high.1 - low.1);
    tree.all("polyline")
        .iter()
        .filter(|p| number(p, "stroke-width") == Some(stroke))
        .flat_map(|p| {
            let points = p.attribute("points").unwrap();
            let list: Vec<f64> = points
                .split_whitespace()
                .map(|xy| xy.split_once(',').unwrap().1.parse::<f64>().unwrap())
                .collect();
            list
        })
        .map(|y| (low.0 + (y - low.1) * per_px) / 100.0)
        .collect()
}

fn gather_strings(value: &Value, out: &mut HashSet<String>) {
    match value {
        Value::String(text) => {
            // A page cannot hold control characters and shows U+FFFD for them.
            let shown = |c: char| if c.is_control() { '\u{fffd}' } else { c };
            out.insert(text.chars().map(shown).collect());
        }
        Value::Array(list) => list.iter().for_each(|v| gather_strings(v, out)),
        Value::Object(map) => map.values().for_each(|v| gather_strings(v, out)),
        _ => {}
    }
}

/// JCGM 100:2008, 7.2.6: value and uncertainty end at the same place, at most two digits of uncertainty.
#[test]
fn no_value_is_shown_finer_than_its_uncertainty() {
    let mut checked = 0;
    for findings in all_findings() {
        let files = files(&findings, &UnitChoice::default());
        let page = Page::parse(file(&files, "report.html"));
        let numbers = page.all("data");
        for pair in numbers.windows(2) {
            let key = |e: &Element| e.attribute("data-key").unwrap();
            let is_pair = key(&pair[0])
                .strip_suffix("/value")
                .is_some_and(|stem| key(&pair[1]) == format!("{stem}/expanded_95"));
            if !is_pair {
                continue;
            }
            let places = |e: &Element| {
                let text = e.text();
                let digits = text.split('\u{a0}').next().unwrap_or_default().to_owned();
                digits.split_once('.').map_or(0, |(_, f)| f.len())
            };
            assert_eq!(
                places(&pair[0]),
                places(&pair[1]),
                "{}: {}",
                findings.name,
                key(&pair[0])
            );
            let text = pair[1].text();
            let significant = text
                .split('\u{a0}')
                .next()
                .unwrap_or_default()
                .replace('.', "")
                .trim_start_matches('0')
                .trim_end_matches('0')
                .len();
            assert!(significant <= 2, "{}: {text}", findings.name);
            checked += 1;
        }
    }
    assert!(checked > 100, "{checked}");
    assert_eq!(PressureUnit::default().symbol(), "bar");
    assert_eq!(FlowUnit::default().symbol(), "L/min");
}
