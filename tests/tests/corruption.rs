//! A short run of the corruption study; the long one writes `tests/corruption/table.md`.

use tipcurve_tests::corruption::{Damage, damage_frames, damage_recordings, truncate_recording};

#[test]
fn no_damaged_frame_passes_for_data() {
    for damage in Damage::ALL {
        let tally = damage_frames(damage, 40_000, 1);
        assert_eq!(tally.undetected, 0, "{damage:?}");
        assert!(tally.damaged > 30_000, "{damage:?}: {tally:?}");
    }
}

#[test]
fn one_damaged_place_costs_the_frame_that_was_hit_and_one_neighbour_and_all_of_it_is_known() {
    for damage in Damage::ALL {
        // Two bits anywhere are two places.
        let n_places = if damage == Damage::TwoFlips { 2 } else { 1 };
        let tally = damage_recordings(damage, 200, 1);
        if damage != Damage::Overwritten {
            assert!(
                tally.most_frames_lost <= 2 * n_places,
                "{damage:?}: {tally:?}"
            );
        }
        assert_eq!(tally.samples_unknown, 0, "{damage:?}");
        assert_eq!(tally.undetected, 0, "{damage:?}");
        // Some of it hit something.
        assert!(tally.frames_lost > 100, "{damage:?}: {tally:?}");
    }
}

#[test]
fn a_recording_cut_anywhere_loses_the_frame_that_was_cut() {
    let (n_cuts, n_bad) = truncate_recording();
    assert!(n_cuts > 1_000);
    assert_eq!(n_bad, 0);
}
