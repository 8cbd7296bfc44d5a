use super::*;
use crate::class_findings::ClassNotice;
use crate::pipeline::analyse;
use crate::recording::roster::Entry as RosterEntry;
use crate::simulate::{scenario::lesson, to_recording};
use std::sync::OnceLock;

/// The lesson's class, analysed once for all tests.
pub(crate) fn lesson() -> &'static (Roster, Vec<Findings>) {
    static LESSON: OnceLock<(Roster, Vec<Findings>)> = OnceLock::new();
    LESSON.get_or_init(|| {
        let members = lesson::class(7);
        let students = members
            .iter()
            .map(|m| RosterEntry {
                name: m.name.to_owned(),
                number: Some(m.number.to_owned()),
                recording: m.scenario.name.clone(),
                bench: Some(m.bench.to_owned()),
            })
            .collect();
        let roster = Roster {
            students,
            ..Roster::default()
        };
        let findings = members
            .iter()
            .map(|m| analyse(to_recording(&m.scenario).0))
            .collect();
        (roster, findings)
    })
}

fn reads() -> Vec<Read> {
    lesson().1.iter().cloned().map(Ok).collect()
}

fn named<'a>(class: &'a ClassFindings, label: &str) -> &'a Student {
    class.students.iter().find(|s| s.label == label).unwrap()
}

fn aside(student: &Student) -> &Aside {
    student.recordings[0].trial.as_ref().unwrap_err()
}

#[test]
fn the_worn_tip_stands_out_of_the_class_and_nobody_else() {
    let class = judge_class(&lesson().0, &reads(), None);
    let setting = class.setting.as_ref().unwrap();
    assert_eq!(
        (setting.tip.as_str(), setting.material.as_str()),
        ("415", "cabin enamel")
    );
    let precision = class.precision.as_ref().unwrap();
    for student in &class.students {
        let result = student.result.as_ref().unwrap();
        let z = result.z.unwrap();
        assert_eq!(
            z.abs() >= 3.0,
            student.label == "Hazel",
            "{}: {z}",
            student.label
        );
        let h = result.h.unwrap().abs();
        assert_eq!(h > precision.h_critical.unwrap(), student.label == "Hazel");
        assert!(student.exercise.is_some());
    }
    // Sixteen percent more area, of which the flow shows most.
    let worn = named(&class, "Hazel")
        .result
        .as_ref()
        .unwrap()
        .deviation
        .unwrap();
    assert!((0.08..0.20).contains(&worn), "{worn}");
    assert!(precision.repeatability_sd.value < 0.02, "{precision:?}");
    assert!(precision.bench_sd.is_some());
}

#[test]
fn a_named_reference_moves_every_deviation_by_as_much() {
    let mut roster = lesson().0.clone();
    roster.reference = Some("bench-1-alder".to_owned());
    let reference = reads().swap_remove(0);
    let class = judge_class(&roster, &reads(), Some(("bench-1-alder", &reference)));
    let consensus = judge_class(&lesson().0, &reads(), None);
    let of =
        |c: &ClassFindings, i: usize| c.students[i].result.as_ref().unwrap().deviation.unwrap();
    assert!(of(&class, 0).abs() < 0.005, "Alder against Alder");
    let shift = of(&class, 0) - of(&consensus, 0);
    for i in 1..6 {
        let own = of(&class, i) - of(&consensus, i);
        assert!((own - shift).abs() < 0.005, "{i}: {own} {shift}");
    }
    let source = class.reference.unwrap().source;
    assert!(matches!(source, ReferenceSource::Recording { .. }));
}

#[test]
fn one_student_without_a_reference_gets_no_number() {
    let mut roster = lesson().0.clone();
    roster.students.truncate(1);
    let class = judge_class(&roster, &reads()[..1], None);
    let refusal = ReferenceRefusal::TooFewCurves {
        n_curves: 1,
        needed: LEAST_CURVES,
    };
    assert_eq!(class.reference, Err(refusal));
    assert_eq!(class.students[0].result, None);
    assert_eq!(class.precision, Err(PrecisionRefusal::OneStudent));
    assert!(class.notices.contains(&ClassNotice::OneStudent));
}

#[test]
fn four_students_have_deviations_and_no_score_unless_one_is_stated() {
    let mut roster = lesson().0.clone();
    roster.students.truncate(4);
    let class = judge_class(&roster, &reads()[..4], None);
    assert_eq!(class.scale, None);
    let result = class.students[0].result.as_ref().unwrap();
    assert!(result.deviation.is_some() && result.z.is_none());
    roster.expected_sd_pct = Some(3.0);
    let class = judge_class(&roster, &reads()[..4], None);
    assert!(class.students[0].result.as_ref().unwrap().z.is_some());
}

#[test]
fn each_recording_that_cannot_be_used_is_set_aside_with_its_reason() {
    let mut list = reads();
    list[0] = Err("bench-1-alder: no such folder".to_owned());
    if let Ok(f) = &mut list[1] {
        f.groups.clear();
    }
    if let Ok(f) = &mut list[2] {
        for g in &mut f.groups {
            g.group.tip = "313".to_owned();
        }
    }
    if let Ok(f) = &mut list[3] {
        f.settings.tap = crate::recording::settings::Tap::GunInlet;
    }
    let mut roster = lesson().0.clone();
    (roster.tip, roster.material) = (Some("415".to_owned()), None);
    // Two of six are left: no consensus, so a recording is named.
    let reference = reads().swap_remove(5);
    let class = judge_class(&roster, &list, Some(("r", &reference)));
    assert!(matches!(
        aside(named(&class, "Alder")),
        Aside::Unreadable { .. }
    ));
    assert_eq!(aside(named(&class, "Birch")), &Aside::NoBursts);
    let Aside::OtherSetting { found } = aside(named(&class, "Cedar")) else {
        panic!("{:?}", aside(named(&class, "Cedar")))
    };
    assert_eq!(found, "tip 313 with cabin enamel");
    assert_eq!(aside(named(&class, "Elm")), &Aside::OtherTap);
    let none = named(&class, "Alder").result.as_ref().unwrap();
    assert_eq!((none.n_bursts, none.z, none.deviation), (0, None, None));
    assert_eq!(class.precision.unwrap().n_students, 2);
}

#[test]
fn a_flow_in_another_unit_is_set_aside_and_spoils_nobody_elses_number() {
    let mut list = reads();
    // Litres for gallons.
    if let Ok(f) = &mut list[1] {
        for b in &mut f.bursts {
            b.steady.flow_m3_per_s = b.steady.flow_m3_per_s.map(|q| q.scaled(3.785));
        }
        for g in &mut f.groups {
            if let Ok(c) = &mut g.curve {
                c.power_law.q_ref_m3_per_s = c.power_law.q_ref_m3_per_s.scaled(3.785);
                c.two_term = None;
            }
        }
    }
    let class = judge_class(&lesson().0, &list, None);
    let Aside::OffScale { flow_ratio } = aside(named(&class, "Birch")) else {
        panic!("{:?}", named(&class, "Birch"))
    };
    assert!((flow_ratio / 3.785 - 1.0).abs() < 0.1, "{flow_ratio}");
    let alder = named(&class, "Alder").result.as_ref().unwrap();
    assert!(alder.deviation.unwrap().abs() < 0.06, "{alder:?}");
    assert_eq!(class.precision.unwrap().n_students, 5);
}

#[test]
fn other_rigs_and_meters_are_named() {
    let mut list = reads();
    if let Ok(f) = &mut list[3] {
        f.settings.rig = Some("another pump".to_owned());
        f.settings.flow_meter.k_factor_per_m3 = Some(2.0e6);
        f.signal.flow_meter.is_nominal = true;
    }
    let class = judge_class(&lesson().0, &list, None);
    assert!(matches!(&class.notices[1], ClassNotice::Rigs { names } if names.len() == 2));
    assert!(class.notices.contains(&ClassNotice::NominalMeters {
        labels: vec!["Elm".to_owned()]
    }));
    assert!(
        class
            .notices
            .contains(&ClassNotice::Meters { n_constants: 2 })
    );
}

#[test]
fn a_blinded_class_keeps_its_numbers_and_tells_no_name_bench_or_folder() {
    let open = judge_class(&lesson().0, &reads(), None);
    let codes: Vec<String> = ["Z9", "K2", "M4", "A7", "Q1", "B3"]
        .map(String::from)
        .into();
    let blind = blinded(open.clone(), &codes);
    assert!(blind.is_blind);
    assert_eq!(blind.students[0].label, "A7");
    let hazel = named(&open, "Hazel").result.as_ref().unwrap().z;
    assert_eq!(named(&blind, "Q1").result.as_ref().unwrap().z, hazel);
    let text = format!("{blind:?}").to_lowercase();
    for name in ["alder", "birch", "cedar", "elm", "hazel", "rowan", "bench-"] {
        assert!(!text.contains(name), "{name}");
    }
}
