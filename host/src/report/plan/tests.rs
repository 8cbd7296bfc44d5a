use std::path::Path;

use super::*;
use crate::findings::Findings;
use crate::interchange::import_folder;
use crate::pipeline::analyse;
use crate::pipeline::plan_box::{BoxQuestion, plan_box};
use crate::units::PressureUnit;

fn fixture(name: &str) -> Findings {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
    analyse(&import_folder(&folder.join(name)).unwrap())
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
        assert_eq!(
            tip["held"]["high_pa"].as_f64().unwrap(),
            outlook.held.high_pa
        );
        assert_eq!(tip["set_pa"].as_f64(), outlook.set_pa);
    }
}
