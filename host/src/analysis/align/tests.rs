use super::*;

fn burst(start_s: f64, length_s: f64, spraying_bar: f64) -> AlignBurst {
    AlignBurst {
        burst: Burst {
            start_s,
            end_s: start_s + length_s,
            u_time_s: 0.02,
        },
        spraying_pa: Some(spraying_bar * 1e5),
    }
}

fn note(clock: NoteClock, dial: &str, tip: &str) -> AlignNote {
    AlignNote {
        role: NoteRole::Observation,
        clock,
        dial: Some(dial.to_owned()),
        group_key: tip.to_owned(),
        observed: dial.to_owned(),
    }
}

fn seconds(nominal_s: f64) -> NoteClock {
    NoteClock::Clock {
        nominal_s,
        resolution_s: 1.0,
    }
}

fn minutes(nominal_s: f64) -> NoteClock {
    NoteClock::Clock {
        nominal_s: (nominal_s / 60.0).floor() * 60.0,
        resolution_s: 60.0,
    }
}

fn bursts() -> Vec<AlignBurst> {
    vec![
        burst(10.0, 5.0, 60.0),
        burst(30.0, 4.0, 80.0),
        burst(50.0, 4.0, 100.0),
        burst(70.0, 6.0, 60.0),
        burst(95.0, 5.0, 80.0),
    ]
}

#[track_caller]
fn check(
    notes: &[AlignNote],
    bursts: &[AlignBurst],
    prior: ClockPrior,
    expected: &[Option<usize>],
) {
    let found = align_notes(notes, bursts, prior);
    let got: Vec<_> = found.matches.iter().map(|m| m.burst_index).collect();
    assert_eq!(got, expected, "{found:?}");
}

#[test]
fn exact_times_find_their_bursts_through_a_watch_three_seconds_off() {
    let notes: Vec<_> = [18.0, 37.0, 59.0, 80.0, 104.0]
        .iter()
        .zip(["3", "5", "7", "3", "5"])
        .map(|(t, d)| note(seconds(t + 3.0), d, "415"))
        .collect();
    check(
        &notes,
        &bursts(),
        ClockPrior::Started,
        &[0, 1, 2, 3, 4].map(Some),
    );
}

#[test]
fn the_clock_is_as_uncertain_as_what_people_write_it_by() {
    // Each writes as soon as the last did; the true clock is 3 s ahead.
    for lag_s in [2.0, 4.5, 7.0] {
        let ends = bursts().into_iter().map(|b| b.burst.end_s);
        let notes: Vec<_> = ends
            .zip(["3", "5", "7", "3", "5"])
            .map(|(end_s, d)| note(seconds((end_s + lag_s + 3.0).floor()), d, "415"))
            .collect();
        let found = align_notes(&notes, &bursts(), ClockPrior::Started);
        let (offset_s, u_s) = (
            found.clock_offset_s.unwrap(),
            found.u_clock_offset_s.unwrap(),
        );
        assert!(
            (offset_s + 3.0).abs() < 2.0 * u_s,
            "{lag_s}: {offset_s} +- {u_s}"
        );
        assert!(u_s < 3.0, "{u_s}");
        assert!(found.is_start_known);
    }
    let found = align_notes(&[], &bursts(), ClockPrior::Unknown);
    assert!(!found.is_start_known && found.clock_offset_s.is_none());
}

#[test]
fn a_test_pull_without_a_note_is_found_by_the_control_position() {
    let notes: Vec<_> = [18.0, 59.0, 80.0, 104.0]
        .iter()
        .zip(["3", "7", "3", "7"])
        .map(|(t, d)| note(minutes(*t), d, "415"))
        .collect();
    let mut pulls = bursts();
    pulls[4].spraying_pa = Some(100e5);
    // Only the settled pressure tells that it is the 80 bar pull which has no note.
    check(&notes, &pulls, ClockPrior::Started, &[0, 2, 3, 4].map(Some));
}

#[test]
fn a_position_seen_once_cannot_settle_which_pull_has_no_note() {
    let notes: Vec<_> = [18.0, 59.0, 80.0, 104.0]
        .iter()
        .zip(["3", "7", "3", "5"])
        .map(|(t, d)| note(minutes(*t), d, "415"))
        .collect();
    let found = align_notes(&notes, &bursts(), ClockPrior::Started);
    assert!(found.matches[1].is_ambiguous, "{found:?}");
    assert!(!found.is_ambiguous, "one group all the same: {found:?}");
}

#[test]
fn ordered_notes_alone_are_enough_when_the_numbers_agree() {
    let notes: Vec<_> = ["3", "5", "7", "3", "5"]
        .iter()
        .map(|d| note(NoteClock::Unknown, d, "415"))
        .collect();
    check(
        &notes,
        &bursts(),
        ClockPrior::Unknown,
        &[0, 1, 2, 3, 4].map(Some),
    );
}

#[test]
fn notes_written_in_a_batch_keep_their_order() {
    let notes: Vec<_> = [18.0, 82.0, 82.0, 83.0, 104.0]
        .iter()
        .zip(["3", "5", "7", "3", "5"])
        .map(|(t, d)| note(seconds(*t), d, "415"))
        .collect();
    check(
        &notes,
        &bursts(),
        ClockPrior::Started,
        &[0, 1, 2, 3, 4].map(Some),
    );
}

#[test]
fn sync_pulls_tie_clocks_that_are_minutes_apart() {
    let mut with_sync = vec![
        burst(2.0, 0.5, 60.0),
        burst(3.2, 0.5, 60.0),
        burst(4.4, 0.5, 60.0),
    ];
    with_sync.extend(bursts());
    let mut notes = vec![AlignNote {
        role: NoteRole::Sync,
        ..note(seconds(4.9 + 287.0), "3", "415")
    }];
    notes.extend(
        [18.0, 37.0, 59.0, 80.0, 104.0]
            .iter()
            .zip(["3", "5", "7", "3", "5"])
            .map(|(t, d)| note(seconds(t + 287.0), d, "415")),
    );
    let found = align_notes(&notes, &with_sync, ClockPrior::Started);
    assert_eq!(found.sync_bursts, vec![0, 1, 2]);
    assert!(
        (found.clock_offset_s.unwrap() + 287.0).abs() < 3.0,
        "{found:?}"
    );
    let got: Vec<_> = found
        .matches
        .iter()
        .skip(1)
        .map(|m| m.burst_index)
        .collect();
    assert_eq!(got, [3, 4, 5, 6, 7].map(Some));
}

/// Where the pump weakens, the pressures of a control position agree better when the notes stand too early, the
/// first ones on the pulls of the mark.
#[test]
fn no_observation_is_about_a_pull_of_the_sync_mark() {
    let pulls = [
        (10.4, 0.6, 57.0),
        (11.9, 0.4, 57.0),
        (13.3, 0.5, 57.0),
        (20.1, 5.0, 127.0),
        (30.8, 6.8, 153.0),
        (46.2, 5.4, 78.0),
        (60.0, 3.6, 102.0),
        (69.7, 4.9, 57.0),
        (82.2, 5.0, 153.0),
        (96.8, 3.4, 78.0),
        (105.4, 4.2, 153.0),
        (116.0, 6.4, 75.0),
        (126.6, 6.5, 85.0),
        (140.1, 5.4, 52.0),
        (156.3, 4.8, 85.0),
        (167.1, 3.6, 91.0),
        (177.5, 6.1, 86.0),
        (191.4, 4.5, 88.0),
    ];
    let all: Vec<_> = pulls
        .iter()
        .map(|(t, l, bar)| burst(*t, *l, *bar))
        .collect();
    let written = [
        (0.0, "7 9 4 5"),
        (60.0, "2 9 4 9 4"),
        (120.0, "7 2 5 9 9"),
        (180.0, "9"),
    ];
    let mut notes = vec![AlignNote {
        role: NoteRole::Sync,
        ..note(minutes(0.0), "7", "421")
    }];
    for (minute_s, dials) in written {
        notes.extend(
            dials
                .split(' ')
                .map(|dial| note(minutes(minute_s), dial, "421")),
        );
    }
    let found = align_notes(&notes, &all, ClockPrior::Started);
    let got: Vec<_> = found.matches[1..].iter().map(|m| m.burst_index).collect();
    assert_eq!(got, (3..18).map(Some).collect::<Vec<_>>(), "{found:?}");
}

#[test]
fn a_tip_change_that_cannot_be_placed_is_ambiguous_and_says_so() {
    // Five pulls at one control position, four notes without times, two tips.
    let same: Vec<_> = bursts()
        .iter()
        .map(|b| AlignBurst {
            spraying_pa: Some(60e5),
            ..*b
        })
        .collect();
    let notes: Vec<_> = ["415", "415", "311", "311"]
        .iter()
        .map(|tip| note(NoteClock::Unknown, "3", tip))
        .collect();
    let found = align_notes(&notes, &same, ClockPrior::Unknown);
    assert!(found.is_ambiguous, "{found:?}");
    assert!(found.matches.iter().any(|m| m.is_ambiguous));
}

#[test]
fn nothing_matches_nothing() {
    assert!(
        align_notes(&[], &bursts(), ClockPrior::Started)
            .matches
            .is_empty()
    );
    let lone = [note(NoteClock::Unknown, "3", "415")];
    assert_eq!(
        align_notes(&lone, &[], ClockPrior::Started).matches[0].burst_index,
        None
    );
}

/// Two notes to one burst on both sides of the edge of another note's window: the inner one lost its burst, so that
/// everything else became cheap.
#[test]
fn two_notes_to_one_burst_make_no_far_note_ambiguous() {
    let bursts: Vec<AlignBurst> = (0..150)
        .map(|i| burst(20.0 * f64::from(i), 5.0, 60.0))
        .collect();
    let exact = |i: u32| NoteClock::Logger {
        t_s: 20.0 * f64::from(i) + 9.0,
    };
    let about = |i: u32| NoteClock::About {
        nominal_s: 20.0 * f64::from(i) + 9.5,
    };
    let written = |clock, i: u32| note(clock, &i.to_string(), "415");
    let mut notes: Vec<AlignNote> = (0..150).map(|i| written(exact(i), i)).collect();
    notes[24] = written(about(24), 24);
    // Fifty-one notes after that one.
    notes.insert(74, written(about(74), 74));
    let found = align_notes(&notes, &bursts, ClockPrior::Started);
    let at = |note: usize| found.matches[note];
    assert_eq!(
        (at(74).burst_index, at(75).burst_index),
        (Some(74), Some(74))
    );
    assert_eq!(
        (at(24).burst_index, at(24).other_burst_index),
        (Some(24), None)
    );
    assert!(!at(24).is_ambiguous);
}
