use super::*;
use crate::analysis::energy::battery::ReachesLimit;
use crate::energy_findings::{CompareRefusal, Missing};
use crate::estimate::Interval;
use crate::findings::Findings;
use crate::pipeline::endurance_of::judge_endurance;

fn batteries() -> &'static [Findings; 2] {
    &crate::pipeline::endurance_of::tests::batteries().findings
}

fn both() -> EnduranceFindings {
    let [a, b] = batteries().clone();
    judge_endurance(&[a], &[b], 0.5)
}

#[track_caller]
fn check_numbers(found: &EnduranceFindings) -> (String, usize) {
    let files = render(found, &UnitChoice::default(), None).unwrap();
    let json: serde_json::Value = serde_json::from_str(&files[1].text).unwrap();
    let page = files[0].text.clone();
    let mut n = 0;
    for part in page.split("<data value=\"").skip(1) {
        let (value, rest) = part.split_once("\" data-key=\"").unwrap();
        let key = rest.split('"').next().unwrap();
        let stored = json.pointer(key).and_then(serde_json::Value::as_f64);
        let stored = stored.unwrap_or_else(|| panic!("{key} is no number in the JSON"));
        let value: f64 = value.parse().unwrap();
        assert!((stored - value).abs() <= 1e-12 * value.abs(), "{key}");
        n += 1;
    }
    assert!(!files[1].text.contains("NaN") && !page.contains("NaN"));
    (page, n)
}

#[test]
fn every_number_of_the_page_stands_in_the_json() {
    let (page, n) = check_numbers(&both());
    assert!(n > 60, "{n}");
    for words in [
        "Holds tips up to",
        "Two batteries",
        "What the pump can push",
        "As the second battery empties",
        "surgical emergency",
        "Swap and charge away from solvent vapour",
        "Simulated data",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn what_was_not_logged_is_named_with_what_to_do_and_no_number_takes_its_place() {
    let mut f = batteries()[0].clone();
    f.energy = None;
    f.signal.slow.supply_a = crate::analysis::signal::Series::default();
    f.settings.limits.battery_v = None;
    let found = judge_endurance(&[f], &[], 0.5);
    let (page, _) = check_numbers(&found);
    for words in ["column supply_v", "column supply_a", "battery_ah"] {
        assert!(page.contains(words), "{words}");
    }
    assert!(
        page.contains("how long a charge runs is not known"),
        "{page:.0}"
    );
    assert!(!page.contains("Run time: "));
    let said = summary(&found, &UnitChoice::default());
    assert!(
        said.contains("Missing. Supply voltage was not logged."),
        "{said}"
    );
}

#[test]
fn each_missing_measurement_has_words_of_its_own() {
    let all = [
        Missing::Voltage,
        Missing::Current,
        Missing::Bursts,
        Missing::Battery,
        Missing::Replicates,
        Missing::ChargeRange,
        Missing::Supply,
    ];
    let texts: Vec<&str> = all.iter().map(|m| words::missing(*m)).collect();
    for (i, text) in texts.iter().enumerate() {
        assert!(!texts[..i].contains(text), "{text}");
    }
}

#[test]
fn each_way_to_meet_the_tails_has_its_sentence_and_its_numbers() {
    for (limit, words) in [
        (
            ReachesLimit::At {
                used_ratio: 0.6,
                interval_95: Interval {
                    low: 0.5,
                    high: 0.7,
                },
            },
            "shows tails before the battery is flat",
        ),
        (
            ReachesLimit::NotWithin { used_ratio: 0.8 },
            "as far as it was measured",
        ),
        (ReachesLimit::Already { used_ratio: 0.1 }, "from the start"),
        (ReachesLimit::CannotTell, "cannot be told from these pulls"),
    ] {
        let mut found = both();
        let charge = found.first.charge.as_mut().unwrap();
        charge.reaches = Some((9.0e6, limit));
        let (page, _) = check_numbers(&found);
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn batteries_that_cannot_be_compared_are_not() {
    for (refusal, words) in [
        (
            CompareRefusal::Rigs {
                first: "a".to_owned(),
                other: "b".to_owned(),
            },
            "drove different rigs",
        ),
        (
            CompareRefusal::NoCommonSetting,
            "no tip and coating was sprayed twice",
        ),
        (
            CompareRefusal::NothingInCommon,
            "no number is known of both",
        ),
    ] {
        let mut found = both();
        found.comparison = Some(Err(refusal));
        let (page, _) = check_numbers(&found);
        assert!(page.contains(words), "{words}");
        assert!(summary(&found, &UnitChoice::default()).contains(words));
    }
}
