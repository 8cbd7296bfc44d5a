use super::*;
use crate::class_findings::{Aside, ClassNotice, ReferenceRefusal};
use crate::pipeline::class_of::{Read, blinded, judge_class};
use crate::recording::roster::Roster;
use crate::units::{FlowUnit, OrificeUnit, PressureUnit};
use std::sync::OnceLock;

fn lesson() -> &'static ClassFindings {
    static LESSON: OnceLock<ClassFindings> = OnceLock::new();
    LESSON.get_or_init(|| {
        let (roster, findings) = crate::pipeline::class_of::tests::lesson();
        let roster = Roster {
            title: Some("Enamel & <tip>".to_owned()),
            ..roster.clone()
        };
        let reads: Vec<Read> = findings.iter().cloned().map(Ok).collect();
        judge_class(&roster, &reads, None)
    })
}

fn files(class: &ClassFindings) -> Vec<ReportFile> {
    render(class, &UnitChoice::default(), None).unwrap()
}

/// Every `data` element's key leads to its value in the JSON. Returns how many there are.
#[track_caller]
fn check_numbers(page: &str, json: &serde_json::Value) -> usize {
    let mut n = 0;
    for part in page.split("<data value=\"").skip(1) {
        let (value, rest) = part.split_once("\" data-key=\"").unwrap();
        let key = rest.split('"').next().unwrap();
        let stored = json.pointer(key).and_then(serde_json::Value::as_f64);
        let value: f64 = value.parse().unwrap();
        let stored = stored.unwrap_or_else(|| panic!("{key} is no number in the JSON"));
        assert!(
            (stored - value).abs() <= 1e-12 * value.abs(),
            "{key}: {stored} {value}"
        );
        n += 1;
    }
    n
}

fn json(files: &[ReportFile]) -> serde_json::Value {
    let file = files.iter().find(|f| f.name == CLASS_RESULT).unwrap();
    serde_json::from_str(&file.text).unwrap()
}

#[test]
fn every_number_of_the_pages_stands_in_the_json_in_each_unit() {
    let imperial = UnitChoice {
        pressure: PressureUnit::Psi,
        flow: FlowUnit::UsGallonPerMinute,
        orifice: OrificeUnit::Thou,
    };
    for units in [UnitChoice::default(), imperial] {
        let files = render(lesson(), &units, None).unwrap();
        let json = json(&files);
        let pages: Vec<&ReportFile> = files.iter().filter(|f| f.name.ends_with(".html")).collect();
        assert_eq!(pages.len(), 7);
        for page in pages {
            assert!(check_numbers(&page.text, &json) > 20, "{}", page.name);
        }
    }
}

#[test]
fn the_teacher_reads_the_answer_first_and_who_stands_out() {
    let files = files(lesson());
    let page = &files[0].text;
    let headline = page.find("students agree with the reference").unwrap();
    assert!(headline < page.find("<table").unwrap());
    let json = json(&files);
    assert_eq!(json["class"]["n_agree"], 5);
    assert!(page.contains("worksheets/05-hazel.html"));
    assert!(page.contains("Enamel &amp; &lt;tip&gt;") && !page.contains("<tip>"));
    for caution in ["surgical emergency", "lock the trigger", "Simulated data"] {
        assert!(page.contains(caution), "{caution}");
    }
    let sheet = &files
        .iter()
        .find(|f| f.name.contains("hazel"))
        .unwrap()
        .text;
    assert!(sheet.contains("Work it out") && sheet.contains("surgical emergency"));
    assert!(!sheet.contains("Alder"), "a worksheet is one student's");
}

#[test]
fn the_terminal_says_the_same_and_keeps_the_caution() {
    let said = summary(lesson(), &UnitChoice::default());
    assert!(
        said.contains("5 of 6 students agree with the reference."),
        "{said}"
    );
    assert!(said.contains("Hazel: +"), "{said}");
    assert!(said.contains("surgical emergency") && !said.contains('\u{a0}'));
}

#[test]
fn a_blinded_class_names_nobody_in_any_file() {
    let codes: Vec<String> = ["Z9", "K2", "M4", "A7", "Q1", "B3"]
        .map(String::from)
        .into();
    let class = blinded(lesson().clone(), &codes);
    for file in files(&class) {
        let text = format!("{} {}", file.name, file.text).to_lowercase();
        for name in ["alder", "birch", "cedar", "hazel", "rowan", "bench-"] {
            assert!(!text.contains(name), "{name} in {}", file.name);
        }
    }
}

fn with_asides() -> ClassFindings {
    let mut class = lesson().clone();
    let asides = [
        Aside::Unreadable {
            message: "x: no such folder".to_owned(),
        },
        Aside::NoBursts,
        Aside::OtherSetting {
            found: "tip 313 with stain".to_owned(),
        },
        Aside::OtherTap,
        Aside::NoneUsable { n_bursts: 3 },
        Aside::OffScale { flow_ratio: 3.8 },
    ];
    for (student, aside) in class.students.iter_mut().zip(asides) {
        student.recordings[0].trial = Err(aside);
        student.exercise = None;
        student.result = None;
    }
    class
}

#[test]
fn each_reason_for_setting_aside_says_what_to_do() {
    let files = files(&with_asides());
    let page = &files[0].text;
    for words in [
        "Check the folder's name in class.toml",
        "Write both with the first note",
        "tip 313 with stain",
        "correct tap in session.toml",
        "its own report says why",
        "check units, meter constant and tip",
    ] {
        let escaped = words.replace('\'', "&#39;");
        assert!(page.contains(words) || page.contains(&escaped), "{words}");
    }
    let json = json(&files);
    for page in files.iter().filter(|f| f.name.ends_with(".html")) {
        check_numbers(&page.text, &json);
    }
    assert_eq!(
        json["students"][5]["recordings"][0]["aside"]["reason"],
        "off_scale"
    );
    assert!(page.contains("no student has a usable burst"));
}

#[test]
fn each_refusal_and_notice_has_its_words_and_no_number_of_its_own_making() {
    let mut class = lesson().clone();
    for s in &mut class.students {
        s.result = None;
    }
    class.scale = None;
    class.precision = Err(crate::analysis::class::PrecisionRefusal::OneStudent);
    class.notices = vec![
        ClassNotice::OneStudent,
        ClassNotice::Rigs {
            names: vec!["a".to_owned(), "b".to_owned()],
        },
        ClassNotice::NominalMeters {
            labels: vec!["Elm".to_owned()],
        },
        ClassNotice::Meters { n_constants: 2 },
        ClassNotice::Temperatures {
            low_k: 290.0,
            high_k: 297.0,
        },
        ClassNotice::SameNames {
            names: vec!["Ada".to_owned()],
        },
    ];
    for (refusal, words) in [
        (
            ReferenceRefusal::TooFewCurves {
                n_curves: 1,
                needed: 3,
            },
            "or name a recording",
        ),
        (
            ReferenceRefusal::Unreadable {
                name: "r".to_owned(),
                message: "no such folder".to_owned(),
            },
            "cannot be used",
        ),
        (
            ReferenceRefusal::NoCurve {
                name: "r".to_owned(),
            },
            "no nozzle curve",
        ),
        (ReferenceRefusal::NoSetting, "Write tip and coating"),
    ] {
        class.reference = Err(refusal);
        let files = files(&class);
        assert!(files[0].text.contains(words), "{words}");
        assert!(files[0].text.contains("No comparison"));
        check_numbers(&files[0].text, &json(&files));
        assert!(summary(&class, &UnitChoice::default()).contains(words));
    }
}

#[test]
fn an_earlier_class_is_not_overwritten_and_its_stale_sheets_go_when_it_is() {
    let folder = std::env::temp_dir().join(format!("tipcurve-class-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    let units = UnitChoice::default();
    write(lesson(), &units, &folder, None, false).unwrap();
    let again = write(lesson(), &units, &folder, None, false).unwrap_err();
    assert!(again.to_string().contains("there is a report already"));
    let mut fewer = lesson().clone();
    fewer.students.truncate(2);
    write(&fewer, &units, &folder, None, true).unwrap();
    let sheets = std::fs::read_dir(folder.join("worksheets"))
        .unwrap()
        .count();
    std::fs::remove_dir_all(&folder).unwrap();
    assert_eq!(sheets, 2);
}

/// A label that a roster can hold and a page must survive.
#[test]
fn names_of_any_kind_are_shown_and_make_files_with_plain_names() {
    let mut class = lesson().clone();
    class.students[0].label = "\u{202e}<script>/../x".to_owned();
    let files = files(&class);
    assert!(files.iter().all(|f| !f.name.contains("..")));
    let mut pages = files.iter().filter(|f| f.name.ends_with(".html"));
    assert!(pages.all(|f| !f.text.contains("<script") && !f.text.contains('\u{202e}')));
}
