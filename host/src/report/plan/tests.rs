use std::path::Path;

use super::*;
use crate::findings::Findings;
use crate::interchange::import_folder;
use crate::pipeline::analyse;
use crate::pipeline::plan_box::{BoxQuestion, plan_box};
use crate::units::PressureUnit;

fn fixture(name: &str) -> Findings {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
    analyse(import_folder(&folder.join(name)).unwrap())
}

fn plan(findings: &Findings) -> BoxPlan {
    plan_box(&[findings], &BoxQuestion::default()).unwrap()
}

fn said(plan: &BoxPlan, units: &UnitChoice) -> String {
    text(&Planned { plan, job: None }, units)
}

#[test]
fn supply_and_atomisation_are_said_apart_and_every_limit_is_named() {
    let findings = fixture("rec-28");
    let plan = plan(&findings);
    let text = said(&plan, &UnitChoice::default());
    let is_detailed = |t: &&crate::pipeline::plan_box::TipPlan| {
        let yes = t.outlook.as_ref().is_ok_and(|o| o.answer == Answer::Yes);
        t.outlook.is_ok() && !(yes && plan.tips.len() > 1)
    };
    let tips = plan.tips.iter().filter(is_detailed).count();
    assert!(tips > 0);
    assert_eq!(
        text.matches("  Supply: the rig holds").count(),
        tips,
        "{text}"
    );
    assert_eq!(text.matches("  Atomisation: ").count(), tips, "{text}");
    assert!(text.contains("Never above"), "{text}");
    assert!(text.contains("no, supply limit"), "{text}");
    assert!(text.contains("smaller orifice with the same fan"), "{text}");
    assert!(text.contains("No larger orifice"), "{text}");
    assert!(text.trim_end().ends_with("come first."), "{text}");
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
}

#[test]
fn advice_stands_with_its_caution_said_once() {
    let findings = fixture("rec-04");
    let text = said(&plan(&findings), &UnitChoice::default());
    let caution = Caution::Warming.text();
    let at = text.find("Warming within the label").unwrap();
    let caution_at = text.find(caution).unwrap();
    assert!(caution_at > at && caution_at - at < 200, "{text}");
    assert_eq!(text.matches(caution).count(), 1);
    assert!(
        !text.contains("An orifice of"),
        "an atomisation limit asks for no smaller one: {text}"
    );
}

#[test]
fn each_number_is_in_the_units_asked_for() {
    let findings = fixture("rec-19");
    let psi = UnitChoice {
        pressure: PressureUnit::Psi,
        ..UnitChoice::default()
    };
    let text = said(&plan(&findings), &psi);
    assert!(text.contains(" psi") && !text.contains(" bar"), "{text}");
}

#[test]
fn json_says_what_the_words_say() {
    let findings = fixture("rec-19");
    let plan = plan(&findings);
    let text = json(&Planned {
        plan: &plan,
        job: None,
    })
    .unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["tips"].as_array().unwrap().len(), plan.tips.len());
    for (tip, planned) in value["tips"].as_array().unwrap().iter().zip(&plan.tips) {
        let outlook = planned.outlook.as_ref().unwrap();
        let high = tip["held"]["high_pa"].as_f64().unwrap();
        assert!((high / outlook.held.high_pa - 1.0).abs() < 1e-12);
        assert_eq!(tip["set_pa"].is_null(), outlook.set_pa.is_none());
        let answer = serde_json::to_value(outlook.answer).unwrap();
        assert_eq!(tip["answer"], answer);
    }
}

fn job(findings: &Findings) -> String {
    job_in(findings, &UnitChoice::default())
}

fn job_in(findings: &Findings, units: &UnitChoice) -> String {
    use crate::pipeline::plan_job::{JobQuestion, WantedFilm, plan_job};
    let plan = plan(findings);
    let question = JobQuestion {
        area_m2: 12.0,
        film: WantedFilm::Wet(120e-6),
        hand_speed_m_per_s: 0.5,
        overlap_ratio: 0.5,
        spraying_ratio: 0.5,
    };
    let of_tip = |tip| plan_job(&[findings], &plan, tip, &question);
    let jobs: Vec<_> = plan.tips.iter().map(of_tip).collect();
    let planned = Planned {
        plan: &plan,
        job: Some((&question, &jobs)),
    };
    text(&planned, units)
}

#[test]
fn a_reader_of_gallons_gets_the_volume_in_gallons() {
    let units = UnitChoice {
        flow: crate::units::FlowUnit::UsGallonPerMinute,
        ..UnitChoice::default()
    };
    let said = job_in(&fixture("rec-19"), &units);
    // 2.06 L over 3.785 412 L a US gallon (NIST SP 811).
    assert!(
        said.contains("0.54 \u{b1} 0.1") && said.contains(" US gal of mixed coating"),
        "{said}"
    );
    assert!(!said.contains(" L of"), "{said}");
}

#[test]
fn charges_rest_on_the_logged_current_and_are_refused_without_it() {
    let mut findings = fixture("rec-19");
    let logged = job(&findings);
    // 12 m2 at 0.12 mm are 1.44 L on the wall; at 70 % of transfer 2.06 L from the pot.
    assert!(logged.contains("12 m\u{b2} at 120 \u{b5}m wet"), "{logged}");
    assert!(
        logged.contains("2.1 \u{b1} 0.5 L of mixed coating"),
        "{logged}"
    );
    assert!(logged.contains("charges ("), "{logged}");
    for b in &mut findings.bursts {
        b.steady.supply_a = None;
    }
    let not = job(&findings);
    assert!(!not.contains("charges ("), "{not}");
    assert!(
        not.contains("logged in 0 bursts") && not.contains("log both"),
        "{not}"
    );
    findings.settings.limits.battery_a_s = None;
    assert!(job(&findings).contains("add battery_v and battery_ah"));
    findings.settings.limits.battery_v = None;
    assert!(!job(&findings).contains("Battery:"));
}

#[test]
fn a_starved_pump_is_put_right_first_and_no_larger_one_is_advised() {
    let findings = fixture("rec-22");
    let text = said(&plan(&findings), &UnitChoice::default());
    assert!(text.contains("Clean the inlet strainer"), "{text}");
    assert!(text.contains(Caution::HandsAtPump.text()), "{text}");
    assert!(
        text.contains("not known") && !text.contains("supply limit"),
        "{text}"
    );
    assert!(!text.contains("times the power"), "{text}");
}
