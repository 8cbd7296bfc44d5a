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

/// Digits outside of marked numbers are names that a user gave, or belong to a formula or its source.
#[test]
fn no_number_hides_in_the_words() {
    for findings in all_findings() {
        let files = files(&findings, &readers()[0]);
        let result: Value = serde_json::from_str(file(&files, "result.json")).unwrap();
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
                ["data", "svg", "style"].contains(&e.name().as_str())
                    || e.has_class("q")
                    || e.has_class("method")
            });
            let rest = rest.replace(&findings.name, "").replace("95 %", "");
            let left: Vec<&str> = rest
                .split_whitespace()
                .filter(|word| word.contains(|c: char| c.is_ascii_digit()))
                .collect();
            assert!(left.is_empty(), "{} {}: {left:?}", findings.name, page.name);
        }
    }
}

fn gather_strings(value: &Value, out: &mut HashSet<String>) {
    match value {
        Value::String(text) => {
            out.insert(text.clone());
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
