//! `compare`: two recordings side by side.

use std::fs;

use serde_json::Value;
use tipcurve::recording::folder::SAMPLES;

use crate::scratch::Scratch;
use crate::{changed, day, done, fixture, json, refused, run, text};

#[test]
fn a_worn_tip_moves_the_nozzle_curve_and_the_page_says_so() {
    let scratch = Scratch::new("worn");
    day(scratch.path(), "spring", 0.0, 1.0);
    day(scratch.path(), "autumn", 150.0, 1.08);
    // Given in the wrong order: the dates know better.
    let args = ["compare", "autumn", "spring", "--output", "page"];
    let said = done(&run(scratch.path(), &args));
    assert!(said.contains("Compared with spring"), "{said}");
    assert!(said.contains("Simulated data"), "{said}");
    assert!(said.contains("rose"), "{said}");
    let page = fs::read_to_string(scratch.join("page/compare.html")).unwrap();
    assert!(page.contains("<svg") && page.contains("Which curve moved"));
    let result: Value =
        serde_json::from_str(&fs::read_to_string(scratch.join("page/compare.json")).unwrap())
            .unwrap();
    let nozzle = &result["comparisons"][0]["nozzles"][0];
    assert_eq!(nozzle["change"], "moved_up", "{nozzle}");
    // The area grew by 16.6 %; the flow by that, or a little more in a viscous coating.
    let low = nozzle["flow_change"]["low_95"].as_f64().unwrap();
    let high = nozzle["flow_change"]["high_95"].as_f64().unwrap();
    assert!(low < 0.23 && high > 0.15 && low > 0.05, "{nozzle}");
    every_number_of_the_page_is_in_the_result(&page, &result);
    // Never over an earlier page.
    let said = refused(&run(scratch.path(), &args));
    assert!(said.contains("nothing was overwritten"), "{said}");
    let again = ["compare", "autumn", "spring", "--output", "page", "--force"];
    done(&run(scratch.path(), &again));
}

/// Follows each `data-key` of a page to its value.
#[track_caller]
pub(crate) fn every_number_of_the_page_is_in_the_result(page: &str, result: &Value) {
    let mut n = 0;
    for part in page.split("<data value=\"").skip(1) {
        let (value, rest) = part.split_once('"').unwrap();
        let key = rest.split("data-key=\"").nth(1).unwrap();
        let key = key.split_once('"').unwrap().0;
        let found = result.pointer(key).unwrap_or_else(|| panic!("{key}"));
        let (shown, kept) = (value.parse::<f64>().unwrap(), found.as_f64().unwrap());
        assert!(
            (shown - kept).abs() <= 1e-12 * kept.abs(),
            "{key}: {shown} {kept}"
        );
        n += 1;
    }
    assert!(n > 5, "{n} numbers");
}

#[test]
fn the_same_day_twice_did_not_move() {
    let scratch = Scratch::new("same");
    let folder = text(&fixture("rec-10"));
    let compared = json(&run(
        scratch.path(),
        &["compare", &folder, &folder, "--json"],
    ));
    let comparison = &compared["comparisons"][0];
    assert_eq!(comparison["calibration"], "shared");
    for nozzle in comparison["nozzles"].as_array().unwrap() {
        assert_eq!(nozzle["flow_change"]["value"], 0.0, "{nozzle}");
        assert_ne!(nozzle["change"], "moved_up");
        assert_ne!(nozzle["change"], "moved_down");
    }
}

#[test]
fn recordings_that_have_nothing_in_common_are_refused_with_what_each_has() {
    let scratch = Scratch::new("nothing");
    changed("rec-10", &scratch.join("other"), |s| s);
    let said = refused(&run(
        scratch.path(),
        &[
            "compare",
            &text(&fixture("rec-10")),
            &text(&fixture("rec-28")),
        ],
    ));
    assert!(said.contains("baseline") || said.contains("unit"), "{said}");
    assert!(said.contains("tip "), "{said}");
}

#[test]
fn a_pressure_in_another_unit_is_found_out() {
    let scratch = Scratch::new("unit");
    let to = scratch.join("psi");
    changed("rec-10", &to, |s| s);
    // psi written into the column that says bar.
    let samples = fs::read_to_string(to.join(SAMPLES)).unwrap();
    let mut lines = samples.lines();
    let header = lines.next().unwrap();
    let column = header.split(',').position(|c| c == "pressure_bar").unwrap();
    let mut out = vec![header.to_owned()];
    for line in lines {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        if let Ok(bar) = cells[column].parse::<f64>() {
            cells[column] = format!("{}", bar * 14.5038);
        }
        out.push(cells.join(","));
    }
    fs::write(to.join(SAMPLES), out.join("\n") + "\n").unwrap();
    let said = refused(&run(
        scratch.path(),
        &["compare", &text(&fixture("rec-10")), "psi"],
    ));
    assert!(
        said.contains("psi and bar") && said.contains("nothing was compared"),
        "{said}"
    );
}

#[test]
fn other_rigs_meters_and_kinds_are_said() {
    let scratch = Scratch::new("other");
    changed("rec-10", &scratch.join("rig"), |s| {
        let line = s.lines().find(|l| l.starts_with("rig")).unwrap().to_owned();
        s.replace(&line, "rig = \"another pump\"")
    });
    changed("rec-10", &scratch.join("meter"), |s| {
        let line = s
            .lines()
            .find(|l| l.starts_with("std_uncertainty_pct"))
            .unwrap()
            .to_owned();
        s.replace(&line, "std_uncertainty_pct = 2.5")
    });
    changed("rec-10", &scratch.join("made-up"), |s| {
        format!("simulated = true\n{s}")
    });
    let base = text(&fixture("rec-10"));
    let rig = json(&run(scratch.path(), &["compare", &base, "rig", "--json"]));
    let comparison = &rig["comparisons"][0];
    assert_eq!(comparison["differences"][0], "rig");
    assert_eq!(comparison["calibration"], "separate");
    assert_eq!(comparison["supply"], Value::Null);
    assert!(
        comparison["supply_refusal"]
            .as_str()
            .unwrap()
            .contains("two rigs")
    );
    let meter = json(&run(scratch.path(), &["compare", &base, "meter", "--json"]));
    assert_eq!(meter["comparisons"][0]["differences"][0], "flow_meter");
    let said = refused(&run(scratch.path(), &["compare", &base, "made-up"]));
    assert!(said.contains("made by the simulated rig"), "{said}");
    let said = refused(&run(scratch.path(), &["compare", &base]));
    assert!(said.contains("nothing to be compared with"), "{said}");
    refused(&run(scratch.path(), &["compare"]));
}
