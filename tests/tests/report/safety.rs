//! What a hand must know stands beside what sends it there, and what data are comes first.

use std::collections::HashSet;

use tipcurve::analysis::health::DefectKind;
use tipcurve::analysis::verdict::{Advice, VerdictKind};
use tipcurve::report::summary;

use super::page::{Element, Page};
use super::{example, file, files, readers};

fn report(findings: &tipcurve::findings::Findings) -> Page {
    Page::parse(file(&files(findings, &readers()[0]), "report.html"))
}

#[test]
fn simulated_data_and_a_nominal_meter_are_said_before_anything_else() {
    let mut findings = example::every_kind();
    let in_doubt = report(&findings).all("header")[0].text();
    assert!(in_doubt.contains("Flow in doubt"), "{in_doubt}");
    // The few percent of a nominal constant say nothing of a flow that no tip can pass.
    assert!(!in_doubt.contains("Meter not calibrated"), "{in_doubt}");
    findings
        .defects
        .retain(|d| d.kind != DefectKind::FlowImplausible);
    let page = report(&findings);
    let head = page.all("header")[0].text();
    assert!(head.contains("Simulated data"), "{head}");
    assert!(head.contains("Meter not calibrated"), "{head}");
    assert!(head.len() < 900, "{}", head.len());
    let first: Vec<String> = summary(&findings, &readers()[0])
        .lines()
        .take(3)
        .map(str::to_owned)
        .collect();
    assert!(first[1].starts_with("Simulated data"), "{first:?}");
    assert!(first[2].starts_with("Meter not calibrated"), "{first:?}");
    for file in files(&findings, &readers()[0]) {
        if file.name.starts_with("card-") {
            let text = Page::parse(&file.text).all("main")[0].text();
            assert!(text.starts_with("Simulated data"), "{}: {text}", file.name);
        }
    }
}

#[test]
fn measured_data_with_a_calibrated_meter_carry_no_such_notice() {
    let head = report(&example::yard()).all("header")[0].text();
    assert!(
        !head.contains("Simulated") && !head.contains("not calibrated"),
        "{head}"
    );
}

/// Product design, "Cautions that are part of the product".
#[test]
fn each_dangerous_advice_has_its_caution_in_the_same_list() {
    let findings = example::every_kind();
    let page = report(&findings);
    let needs = |advice: Advice| match advice {
        Advice::CleanTip
        | Advice::ReplaceTip
        | Advice::SmallerTip
        | Advice::LargerTip
        | Advice::SmallerOrificeSameFan
        | Advice::LargerOrificeSameFan
        | Advice::WiderFan
        | Advice::NarrowerFan => Some("lock the trigger"),
        Advice::CleanInletStrainer | Advice::ServicePump => Some("unplug the pump"),
        Advice::ThinMaterial => Some("never more than the label allows"),
        Advice::WarmMaterial => Some("Never warm with an open flame"),
        Advice::RaisePressure | Advice::LargerPump => Some("Never above the lowest rated"),
        Advice::CheckSensor => Some("before touching the sensor"),
        _ => None,
    };
    let mut seen = HashSet::new();
    for (i, verdict) in findings.verdicts.iter().enumerate() {
        let article = by_id(&page, &format!("verdict-{}", i + 1));
        let cautions: String = article
            .all("p")
            .iter()
            .filter(|p| p.has_class("caution"))
            .map(Element::text)
            .collect();
        for advice in &verdict.advice {
            if let Some(words) = needs(*advice) {
                assert!(
                    cautions.contains(words),
                    "{:?} {advice:?}: {cautions}",
                    verdict.kind
                );
                seen.insert(*advice);
            }
        }
    }
    assert!(seen.len() >= 14, "{seen:?}");
}

fn by_id(page: &Page, id: &str) -> Element {
    page.all("*")
        .into_iter()
        .find(|e| e.attribute("id").as_deref() == Some(id))
        .unwrap()
}

#[test]
fn the_page_always_says_what_an_injection_is_and_who_decides() {
    for findings in example::all() {
        let text = report(&findings).all("body")[0].text();
        for words in [
            "surgical emergency",
            "lock the trigger",
            "A zero reading may be a blocked port",
            "data sheet, the pump maker's manual, local codes and licensed practice come before",
        ] {
            assert!(text.contains(words), "{}: {words}", findings.name);
        }
    }
}

#[test]
fn no_sentence_sends_anyone_above_the_rating_or_beyond_the_label() {
    let text = report(&example::every_kind()).all("body")[0].text();
    assert!(
        text.contains("never above the lowest rating, 200\u{a0}bar"),
        "{text}"
    );
    assert!(
        text.contains("never beyond the label: it allows 5.0\u{a0}% by volume"),
        "{text}"
    );
    assert!(
        text.contains("within the label, at most 35.0\u{a0}°C"),
        "{text}"
    );
}

/// Every kind has its own headline: two kinds that read alike would be one answer.
#[test]
fn every_kind_of_verdict_reads_differently() {
    let findings = example::every_kind();
    let page = report(&findings);
    let headlines: HashSet<String> = page
        .all("h2")
        .iter()
        .filter(|h| h.has_class("headline"))
        .map(Element::text)
        .collect();
    assert_eq!(headlines.len(), findings.verdicts.len(), "{headlines:?}");
    assert_eq!(findings.verdicts.len(), 11);
    assert_eq!(findings.verdicts[0].kind, VerdictKind::HealthyWindow);
}

#[test]
fn only_an_open_window_gets_a_card() {
    let cards: Vec<String> = files(&example::every_kind(), &readers()[0])
        .into_iter()
        .map(|f| f.name)
        .filter(|n| n.starts_with("card-"))
        .collect();
    assert_eq!(cards, ["card-1-209.html"]);
}
