//! The whole analysis on recordings from a simulator that shares no code with this project.
//!
//! Source: the recordings with truth under `tests/fixtures/`, made independently; every material, rig
//! and number in them is invented. A rule fitted to them gains nothing: what is checked is that
//! no recording is misread, and that the intervals hold the truth as often as they say.

use std::path::{Path, PathBuf};

use tipcurve_tests::score::{Score, score};
use tipcurve_tests::truth::{Truth, read_truth};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

/// Every recording of the folder with its truth and its score.
fn scores() -> Vec<(String, Truth, Score)> {
    let mut names: Vec<PathBuf> = std::fs::read_dir(folder())
        .expect("the fixtures' folder")
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.is_dir())
        .collect();
    names.sort();
    assert!(names.len() >= 14, "only {} recordings", names.len());
    names
        .iter()
        .map(|path| {
            let recording = tipcurve::interchange::import_folder(path).expect("a fixture");
            let truth = read_truth(&path.with_extension("truth.json"));
            let findings = tipcurve::pipeline::analyse(recording);
            (
                findings.name.clone(),
                truth.clone(),
                score(&findings, &truth),
            )
        })
        .collect()
}

#[test]
fn every_recording_gets_an_accepted_verdict_and_no_forbidden_advice() {
    for (name, truth, score) in scores() {
        assert!(
            score.is_right,
            "{name}: {} for {:?}",
            score.label, truth.accept_labels
        );
        assert!(score.forbidden.is_empty(), "{name}: {:?}", score.forbidden);
    }
}

#[test]
fn data_that_cannot_carry_an_answer_are_refused() {
    let refused: Vec<_> = scores()
        .into_iter()
        .filter(|(_, truth, _)| truth.refusal_expected)
        .collect();
    assert!(!refused.is_empty());
    for (name, _, score) in refused {
        assert!(score.is_undecided, "{name}: {}", score.label);
    }
}

#[test]
fn notes_that_are_not_called_ambiguous_are_on_their_burst() {
    let (mut right, mut used) = (0, 0);
    for (name, truth, score) in scores() {
        // A sensor that lies about pressure takes the control positions' evidence away.
        if truth.refusal_expected {
            continue;
        }
        let (all, ok, ambiguous) = score.notes;
        assert!(ok + ambiguous + 1 >= all, "{name}: {:?}", score.notes);
        right += ok;
        used += all - ambiguous;
    }
    assert!(right * 100 >= used * 99, "{right} of {used}");
}

#[test]
fn curves_are_within_their_uncertainty_and_the_targets() {
    let curves: Vec<_> = scores()
        .into_iter()
        .flat_map(|(_, _, score)| score.curves)
        .collect();
    let median = |mut v: Vec<f64>| {
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    let q = median(curves.iter().map(|c| c.q_error.abs()).collect());
    let n = median(curves.iter().map(|c| c.n_error.abs()).collect());
    assert!(q <= 0.012, "median error of q_ref {q}");
    assert!(n <= 0.01, "median error of n {n}");
    // With about 15 curves of which several share one meter, 95 % coverage leaves at most three out
    // with more than 99 % probability.
    for covered in [
        curves.iter().filter(|c| c.q_covered).count(),
        curves.iter().filter(|c| c.n_covered).count(),
    ] {
        assert!(covered + 3 >= curves.len(), "{covered} of {}", curves.len());
    }
}

#[test]
fn the_clock_of_the_notes_is_within_its_uncertainty() {
    let clocks: Vec<_> = scores()
        .into_iter()
        .filter_map(|(name, _, score)| Some((name, score.clock_s?)))
        .collect();
    assert_eq!(clocks.len(), 11, "{clocks:?}");
    // A bound on the safe side, no calibration: the independent note takers write about as promptly as is assumed.
    for (name, (error_s, expanded_s)) in &clocks {
        assert!(
            error_s.is_finite() && error_s.abs() <= *expanded_s,
            "{name}: {error_s} +- {expanded_s}"
        );
    }
    // Where notes carry seconds, the clock is known to some seconds.
    let tied = clocks
        .iter()
        .filter(|(_, (_, expanded_s))| *expanded_s < 5.0);
    assert!(tied.count() >= 5, "{clocks:?}");
}
