//! A logger's folder, loaded: what is missing, refused, or deserves a second look; in `log`, what its frames say.
#![allow(clippy::unwrap_used)] // Unwrapping is how a test fails.

mod log;

use tipcurve::recording::LoadDefect;
use tipcurve::recording::load::{LoadError, load};
use tipcurve_tests::scratch::Scratch;
use tipcurve_tests::wire_log::LogBuilder;

const NOTES: &str = "time,tip,tails\n";
const SESSION: &str = "rig = \"bench pump\"\n";

fn folder(name: &str, log: &[u8], arrivals: &str) -> Scratch {
    let folder = Scratch::new(name);
    folder.write("yard-03/frames.log", log);
    folder.write("yard-03/arrivals.csv", arrivals);
    folder.write("yard-03/notes.csv", NOTES);
    folder.write("yard-03/session.toml", SESSION);
    folder
}

#[track_caller]
fn check_defects(defects: &[LoadDefect], expected: &[(&str, &str)]) {
    let found: Vec<(&str, &str)> = defects
        .iter()
        .map(|d| (d.code.as_str(), d.message.as_str()))
        .collect();
    assert_eq!(found, expected);
}

const WHOLE: &str = "end_byte,host_unix_s\n1,1700000000.0\n";

#[test]
fn missing_parts_of_a_folder_are_defects_not_errors() {
    let folder = Scratch::new("bare");
    folder.write("bare/frames.log", b"");
    let recording = load(&folder.path().join("bare")).unwrap();
    check_defects(
        &recording.defects,
        &[
            (
                "empty_log",
                "the log is empty: nothing ever arrived; check port, cable and the logger's supply, then record \
                 again",
            ),
            (
                "no_notes",
                "notes.csv is missing, so nothing is known of tips, coatings and tails; add notes with \"tipcurve \
                 note\" or by hand",
            ),
            (
                "no_session",
                "session.toml is missing, so the date, the flow meter's constant and the rig's limits are not known; \
                 write one, its keys are in the manual",
            ),
        ],
    );
}

#[track_caller]
fn check_refused(folder: &Scratch, message: &str) {
    let error: LoadError = load(&folder.path().join("yard-03")).unwrap_err();
    let shown = error
        .to_string()
        .replace(&folder.path().display().to_string(), "DIR");
    assert_eq!(shown, message);
}

#[test]
fn what_is_no_recording_is_refused_by_name() {
    let folder = Scratch::new("refused");
    check_refused(&folder, "DIR/yard-03: no such folder");
    folder.write("yard-03/other.txt", "");
    check_refused(
        &folder,
        "DIR/yard-03: no recording, neither frames.log nor samples.csv is in it",
    );
    let file = Scratch::new("refused-file");
    file.write("yard-03", "");
    check_refused(&file, "DIR/yard-03: not a folder");
}

#[test]
fn samples_without_a_hello_have_no_unit() {
    let mut b = LogBuilder::new();
    b.block();
    let folder = folder("no-hello", &b.bytes, WHOLE);
    check_refused(
        &folder,
        "DIR/yard-03: 50 samples and no hello of the logger, so their codes have no unit",
    );
}

#[test]
fn notes_at_fault_refuse_the_folder_with_their_place() {
    let mut b = LogBuilder::new();
    b.hello();
    b.block();
    let folder = folder("notes-fault", &b.bytes, WHOLE);
    folder.write("yard-03/notes.csv", "time,tip,tails\n12:00,415,9\n");
    folder.write("yard-03/session.toml", "rig = 1\n");
    check_refused(
        &folder,
        "notes.csv, line 2, column tails: \"9\" is not one of 0, 1, 2, 3\n\
         session.toml, line 1, key rig: a number, a text in quotation marks is needed",
    );
}

#[test]
fn notes_and_keys_that_deserve_a_second_look_are_told_and_kept() {
    let mut b = LogBuilder::new();
    b.hello();
    b.second();
    let folder = folder("review", &b.bytes, WHOLE);
    folder.write(
        "yard-03/notes.csv",
        "time,tip,tails,weather\nt+0.5,415,1,dry\nt+0.5,415,1,dry\nt+0.5,415,2,\nt+900,,,\n",
    );
    folder.write(
        "yard-03/session.toml",
        "[limits]\nworking_pressure_psi = 2000\n",
    );
    let recording = load(&folder.path().join("yard-03")).unwrap();
    assert_eq!(recording.notes.len(), 4);
    check_defects(
        &recording.defects,
        &[
            (
                "unknown_key",
                "session.toml: key limits.working_pressure_psi is not known and was not read; it is kept; check its \
                 spelling and unit",
            ),
            (
                "unknown_column",
                "notes.csv: column weather is not known and was not read; it is kept; check its spelling and unit",
            ),
            (
                "duplicate_note",
                "notes.csv, line 3: the same as line 2; both are kept; delete one if it was noted twice",
            ),
            (
                "contradictory_notes",
                "notes.csv, line 4, column tails: contradicts line 3 of the same second; both are kept; correct the \
                 time or the cell",
            ),
            (
                "note_outside",
                "notes.csv, line 5, column time: 900 s of logger time, the recording runs from 0 to 1 s; the note is \
                 kept and placed by its order; correct its time",
            ),
        ],
    );
}
