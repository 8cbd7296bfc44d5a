//! A recorder that is killed, cut off from its power and started again in any order, beside a model of what must be
//! left (see `tipcurve_tests::log_model`).
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

use proptest::prelude::*;
use proptest::sample::select;
use tipcurve_tests::disk::Sector;
use tipcurve_tests::log_model::{Bench, Step};

/// What happens between two failures.
fn ordinary() -> impl Strategy<Value = Step> {
    let record = (1..60_usize, select(vec![1, 7, 64, 700])).prop_map(|(frames, portion_bytes)| {
        let frames = if portion_bytes == 1 {
            frames % 4
        } else {
            frames
        };
        Step::Record {
            frames,
            portion_bytes,
        }
    });
    prop_oneof![
        6 => record,
        2 => any::<u8>().prop_map(|share| Step::HalfFrame { share }),
        2 => Just(Step::Sync),
        1 => Just(Step::Restart),
        1 => (-7_200..7_200_i32).prop_map(|step_s| Step::SetClock { step_s }),
    ]
}

fn kill() -> impl Strategy<Value = Step> {
    any::<(u8, u8)>().prop_map(|(frames_share, arrivals_share)| Step::Kill {
        frames_share,
        arrivals_share,
    })
}

fn power_cut() -> impl Strategy<Value = Step> {
    let fate = || select(vec![Sector::Written, Sector::Zeroed, Sector::Missing]);
    let fates = move || prop::collection::vec(fate(), 1..12);
    (select(vec![64, 512, 4_096]), fates(), fates()).prop_map(|(sector_bytes, frames, arrivals)| {
        Step::PowerCut {
            sector_bytes,
            frames,
            arrivals,
        }
    })
}

/// Steps in any order, one in four a failure or a return from one.
fn steps(failure: impl Strategy<Value = Step>) -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![5 => ordinary(), 2 => failure, 3 => Just(Step::Resume)];
    prop::collection::vec(step, 1..24)
}

fn check(name: &str, steps: &[Step]) -> Result<(), TestCaseError> {
    let mut bench = Bench::new(name);
    for (i, step) in steps.iter().enumerate() {
        let done = bench.step(step);
        prop_assert!(done.is_ok(), "step {i}, {step:?}: {}", done.unwrap_err());
    }
    let done = bench.go_on();
    prop_assert!(done.is_ok(), "going on: {}", done.unwrap_err());
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 256,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    /// Killed at any byte, again and again.
    #[test]
    fn every_whole_frame_outlives_any_number_of_kills(steps in steps(kill())) {
        check("model-kill", &steps)?;
    }

    /// The disk took what came after the last sync in any order, or not at all, in each file by itself.
    #[test]
    fn everything_synced_outlives_any_number_of_power_cuts(steps in steps(power_cut())) {
        check("model-power", &steps)?;
    }
}
