//! `plan`: an unmeasured tip from measured ones.

use std::fs;

use serde_json::Value;

use crate::scratch::Scratch;
use crate::{changed, done, fixture, json, refused, run, text};

#[test]
fn the_asked_tip_of_a_fixture_is_planned_within_the_truth() {
    let scratch = Scratch::new("plan");
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(fixture("rec-19.truth.json")).unwrap()).unwrap();
    let asked = truth["plan"]["tip"].as_str().unwrap();
    let folder = text(&fixture("rec-19"));
    let plan = json(&run(
        scratch.path(),
        &["plan", &folder, "--tip", asked, "--json"],
    ));
    assert_eq!(plan["schema"], "tipcurve-plan");
    let tip = &plan["tips"][0];
    assert_eq!(tip["tip"], asked);
    assert_eq!(tip["measured_in"], Value::Null);
    let held = &tip["held"];
    let bar = truth["plan"]["pressure_bar"].as_f64().unwrap();
    let (low, high) = (
        held["low_pa"].as_f64().unwrap() / 1e5,
        held["high_pa"].as_f64().unwrap() / 1e5,
    );
    assert!(low <= bar && bar <= high, "{bar} in {low} to {high}");
    // The same in words, with the caution.
    let said = done(&run(scratch.path(), &["plan", &folder, "--tip", asked]));
    assert!(said.starts_with("Plan for wall white"), "{said}");
    assert!(said.contains("Not measured: predicted from tip"), "{said}");
    assert!(said.contains("surgical emergency"), "{said}");
}

#[test]
fn a_box_is_a_table_and_nothing_is_set_above_the_rating() {
    let scratch = Scratch::new("box");
    let folder = text(&fixture("rec-19"));
    let plan = json(&run(
        scratch.path(),
        &["plan", &folder, "--tips", "308,935", "--json"],
    ));
    let tips = plan["tips"].as_array().unwrap();
    let codes: Vec<&str> = tips.iter().map(|t| t["tip"].as_str().unwrap()).collect();
    assert!(codes.contains(&"611") && codes.contains(&"308") && codes.contains(&"935"));
    let sizes: Vec<f64> = tips
        .iter()
        .filter_map(|t| t["orifice_diameter_m"].as_f64())
        .collect();
    assert!(sizes.windows(2).all(|w| w[0] <= w[1]), "{sizes:?}");
    let rated = plan["rated_pa"].as_f64().unwrap();
    for tip in tips {
        if let Some(set) = tip["set_pa"].as_f64() {
            assert!(set <= rated, "{tip}");
            assert_eq!(tip["answer"], "yes");
        }
        if tip["closes"] == "atomisation" {
            let text = tip["changes"].to_string();
            assert!(!text.contains("orifice_at_most"), "{tip}");
        }
    }
    // Far larger than any tip measured: no number at all.
    let far = tips.iter().find(|t| t["tip"] == "935").unwrap();
    assert!(
        far["refusal"].as_str().unwrap().contains("more than twice"),
        "{far}"
    );
    assert_eq!(far["held"], Value::Null);
    let said = done(&run(
        scratch.path(),
        &["plan", &folder, "--tips", "308,935"],
    ));
    assert!(
        said.lines()
            .any(|l| l.starts_with("Tip  ") && l.contains("Enough?")),
        "{said}"
    );
}

#[test]
fn an_area_gives_litres_time_and_charges_or_says_what_is_missing() {
    let scratch = Scratch::new("area");
    let folder = text(&fixture("rec-10"));
    let plan = json(&run(
        scratch.path(),
        &[
            "plan",
            &folder,
            "--area",
            "20",
            "--coverage",
            "10",
            "--json",
        ],
    ));
    let with_job: Vec<&Value> = plan["tips"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|t| t["answer"] == "yes")
        .collect();
    assert!(!with_job.is_empty(), "{plan}");
    for tip in with_job {
        // 20 m2 at 10 m2/L are 2 L on the wall, and 0.7 of what is sprayed gets there.
        let mixed = tip["job"]["mixed_m3"]["value"].as_f64().unwrap() * 1e3;
        assert!((mixed - 2.0 / 0.7).abs() < 1e-6, "{mixed}");
        let seconds = tip["job"]["spraying_s"]["value"].as_f64().unwrap();
        let flow = tip["flow_at_set_m3_per_s"]["value"].as_f64().unwrap();
        assert!((seconds * flow * 1e3 - mixed).abs() < 1e-6);
    }
}

#[test]
fn bad_questions_are_refused_in_words_with_the_nearest_name() {
    let scratch = Scratch::new("bad-plan");
    let folder = text(&fixture("rec-19"));
    let plan = |more: &[&str]| {
        let mut args = vec!["plan", folder.as_str()];
        args.extend(more);
        refused(&run(scratch.path(), &args))
    };
    let said = plan(&["--material", "wall whte"]);
    assert!(
        said.contains("did you mean \u{201c}wall white\u{201d}?"),
        "{said}"
    );
    let said = plan(&["--dial", "maxx"]);
    assert!(said.contains("did you mean \u{201c}max\u{201d}?"), "{said}");
    let said = plan(&["--tip", "fine"]);
    assert!(said.contains("is not in the session file"), "{said}");
    let said = plan(&["--thinner", "12"]);
    assert!(
        said.contains("was not measured with 12 % thinner"),
        "{said}"
    );
    let said = plan(&["--area", "0"]);
    assert!(said.contains("it must be above zero"), "{said}");
    let said = plan(&["--film-um", "80"]);
    assert!(said.contains("--area"), "{said}");
    let said = refused(&run(scratch.path(), &["plan"]));
    assert!(said.contains("RECORDING"), "{said}");
    let said = refused(&run(scratch.path(), &["plan", "nowhere"]));
    assert!(
        said.contains("no such folder") && said.contains("hint:"),
        "{said}"
    );
    let said = refused(&run(scratch.path(), &["plann", "x"]));
    assert!(said.contains("plan"), "{said}");
}

#[test]
fn recordings_of_two_rigs_make_no_plan() {
    let scratch = Scratch::new("two-rigs");
    changed("rec-19", &scratch.join("other"), |s| {
        s.replace("bench pump", "shed pump")
    });
    let said = refused(&run(
        scratch.path(),
        &["plan", &text(&fixture("rec-19")), "other"],
    ));
    assert!(
        said.contains("shed pump") && said.contains("one rig"),
        "{said}"
    );
}
