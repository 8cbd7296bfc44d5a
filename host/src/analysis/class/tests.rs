use super::*;

fn entry(student: &str, bench: &str, deviations: &[f64]) -> Entry {
    Entry {
        student: student.to_owned(),
        roster_id: None,
        bench: (!bench.is_empty()).then(|| bench.to_owned()),
        recording: format!("{student} at {bench}"),
        deviations: deviations.to_vec(),
    }
}

fn class() -> Vec<Entry> {
    vec![
        entry("Ada", "1", &[0.010, 0.014, 0.006]),
        entry("Bo", "2", &[-0.012, -0.004, -0.008]),
        entry("Cy", "1", &[0.002, -0.002, 0.003]),
        entry("Dee", "2", &[0.090, 0.096, 0.084]),
        entry("Eve", "1", &[-0.004, 0.001, -0.009]),
    ]
}

fn named<'a>(result: &'a ClassResult, label: &str) -> &'a StudentResult {
    result.students.iter().find(|s| s.label == label).unwrap()
}

#[test]
fn the_student_who_is_off_is_named_by_a_stated_scale_and_by_h() {
    let result = score_class(&class(), 0.0, Scale::Stated(0.02)).unwrap();
    let off = named(&result, "Dee");
    assert!((off.z.unwrap() - 4.5).abs() < 1e-9);
    assert_eq!(off.word, Some(ScoreWord::Unsatisfactory));
    assert_eq!(named(&result, "Cy").word, Some(ScoreWord::Satisfactory));
    let precision = result.precision.as_ref().unwrap();
    assert!(off.h.unwrap() > precision.h_critical.unwrap());
    assert!(precision.p_value < 0.001 && precision.student_sd > 0.03);
    assert!(precision.repeatability_sd.value < 0.01);
    assert!(precision.reproducibility_sd.value > precision.repeatability_sd.value);
}

#[test]
fn the_student_who_scatters_is_named_by_k() {
    let mut class = class();
    class[2].deviations = vec![0.03, -0.03, 0.001];
    let result = score_class(&class, 0.0, Scale::Class).unwrap();
    let k_critical = result.precision.as_ref().unwrap().k_critical.unwrap();
    assert!(named(&result, "Cy").k.unwrap() > k_critical);
    assert!(named(&result, "Ada").k.unwrap() < k_critical);
}

#[test]
fn a_student_with_one_burst_or_none_is_said_to_be_so() {
    let mut class = class();
    class[0].deviations.truncate(1);
    class.push(entry("Fay", "2", &[]));
    let result = score_class(&class, 0.0, Scale::Class).unwrap();
    let one = named(&result, "Ada");
    assert_eq!((one.standing, one.n_bursts), (Standing::OneBurst, 1));
    assert!(one.z.is_some() && one.k.is_none());
    let none = named(&result, "Fay");
    assert_eq!(none.standing, Standing::NoData);
    assert_eq!((none.z, none.deviation, none.mean), (None, None, None));
    assert_eq!(result.precision.unwrap().n_students, 5);
}

#[test]
fn two_students_of_one_name_are_kept_apart_by_their_number() {
    let mut class = class();
    class[1].student = "Ada".to_owned();
    class[0].roster_id = Some("7".to_owned());
    class[1].roster_id = Some("9".to_owned());
    let result = score_class(&class, 0.0, Scale::Class).unwrap();
    assert_eq!(result.names_of_several, ["Ada"]);
    assert_eq!(result.students.len(), 5);
    assert!(named(&result, "Ada (7)").deviation.unwrap() > 0.0);
    assert!(named(&result, "Ada (9)").deviation.unwrap() < 0.0);
    assert!(result.names_to_check.is_empty());
}

#[test]
fn one_name_twice_without_a_number_is_one_student_to_be_checked() {
    let mut class = class();
    class.push(entry("ada ", "2", &[0.02, 0.03]));
    let result = score_class(&class, 0.0, Scale::Class).unwrap();
    assert_eq!(result.names_to_check, ["Ada"]);
    assert_eq!(named(&result, "Ada").n_bursts, 5);
}

#[test]
fn a_class_of_one_has_a_deviation_and_no_precision() {
    let result = score_class(&class()[..1], 0.01, Scale::Class).unwrap();
    assert_eq!(result.precision, Err(PrecisionRefusal::OneStudent));
    let only = &result.students[0];
    assert!((only.deviation.unwrap() - 0.010).abs() < 1e-12);
    assert_eq!((only.z, only.zeta), (None, None));
    let stated = score_class(&class()[..1], 0.01, Scale::Stated(0.02)).unwrap();
    assert!((stated.students[0].z.unwrap() - 0.5).abs() < 1e-12);
    let single: Vec<Entry> = class()
        .into_iter()
        .map(|mut e| {
            e.deviations.truncate(1);
            e
        })
        .collect();
    let result = score_class(&single, 0.0, Scale::Class).unwrap();
    assert_eq!(result.precision, Err(PrecisionRefusal::NoReplicates));
}

#[test]
fn benches_that_cannot_be_told_from_students_are_not_invented() {
    let one_each: Vec<Entry> = ["1", "2", "3", "4", "5"]
        .iter()
        .zip(class())
        .map(|(bench, e)| Entry {
            bench: Some((*bench).to_owned()),
            ..e
        })
        .collect();
    let result = score_class(&one_each, 0.0, Scale::Class).unwrap();
    assert_eq!(result.precision.unwrap().bench_sd, None);
    let shared = score_class(&class(), 0.0, Scale::Class).unwrap();
    assert!(shared.precision.unwrap().bench_sd.is_some());
}

#[test]
fn identical_values_have_no_scatter_and_no_score_in_units_of_it() {
    let same = [
        entry("Ada", "", &[0.01, 0.01]),
        entry("Bo", "", &[0.01, 0.01]),
    ];
    let result = score_class(&same, 0.0, Scale::Class).unwrap();
    assert_eq!(
        result.precision.as_ref().unwrap().repeatability_sd.value,
        0.0
    );
    assert_eq!(
        (result.students[0].z, result.students[0].zeta),
        (None, None)
    );
}

#[test]
fn scores_have_the_words_of_iso_13528_at_both_sides_of_each_limit() {
    use ScoreWord::{Questionable, Satisfactory, Unsatisfactory};
    for (score, word) in [
        (0.0, Some(Satisfactory)),
        (-2.0, Some(Satisfactory)),
        (2.01, Some(Questionable)),
        (-2.99, Some(Questionable)),
        (3.0, Some(Unsatisfactory)),
        (f64::NAN, None),
    ] {
        assert_eq!(ScoreWord::of(score), word, "{score}");
    }
}

#[test]
fn each_unusable_entry_is_refused_by_name() {
    #[track_caller]
    fn check(entries: &[Entry], u_reference: f64, scale: Scale, message: &str) {
        let error = score_class(entries, u_reference, scale).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    check(
        &[],
        0.0,
        Scale::Class,
        "the class has no recording; add one folder a student",
    );
    check(
        &[entry("Ada", "1", &[0.0, f64::NAN])],
        0.0,
        Scale::Class,
        "recording Ada at 1: deviation NaN of burst 2 is not finite",
    );
    check(
        &class(),
        -0.1,
        Scale::Class,
        "the reference's uncertainty is -0.1; it must be a finite number of zero or above",
    );
    check(
        &class(),
        0.0,
        Scale::Stated(0.0),
        "the stated standard deviation is 0; it must be a finite number above zero",
    );
}
