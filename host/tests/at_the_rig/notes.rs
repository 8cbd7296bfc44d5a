//! Notes from three sides: the page, the verb, a spreadsheet. All three agree, and none is lost.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::json;
use tipcurve::recording::load::load;

use crate::program::{Program, Socket, log_of, run, text, wait_until};
use crate::rig::Plugged;
use crate::scratch::Scratch;
use crate::web::Page;

/// Notes of each side.
const EACH: usize = 8;

/// How often each text stands in the file.
fn texts(recording: &Path) -> BTreeMap<String, usize> {
    let file = std::fs::read_to_string(recording.join("notes.csv")).unwrap_or_default();
    let mut counts = BTreeMap::new();
    for line in file.lines() {
        for cell in line.split(',').filter(|cell| cell.starts_with("side ")) {
            *counts.entry(cell.to_owned()).or_default() += 1;
        }
    }
    counts
}

/// Opens the file, types a row below the others, and saves over whatever is there by then: what other
/// sides added in between is overwritten.
fn save_as_a_spreadsheet(recording: &Path, words: &str, works: std::time::Duration) {
    let path = recording.join("notes.csv");
    let mut file = std::fs::read_to_string(&path).unwrap_or_default();
    let columns = file.lines().next().unwrap_or_default().to_owned();
    std::thread::sleep(works);
    let cells: Vec<&str> = columns
        .split(',')
        .map(|column| match column {
            "time" => "14:05:00",
            "text" => words,
            _ => "",
        })
        .collect();
    file.push_str(&cells.join(","));
    file.push('\n');
    std::fs::write(&path, file).unwrap();
}

#[test]
fn page_verb_and_spreadsheet_agree_and_no_note_is_lost() {
    let folder = Scratch::new("sides");
    let recording = folder.join("one");
    let made = run(&["new", text(&recording), "--no-questions"]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    let socket = Socket::open();
    let program = Program::start(&["record", text(&recording), "--port", &socket.address]);
    let _rig = socket.plug(Plugged::default());
    let page = Page::of(&program);
    wait_until("some log", || log_of(&recording).len() > 500);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for k in 0..EACH {
                let note = json!({"id": format!("browser-{k}"), "text": format!("side page {k}")});
                let (status, answer) = page.post("/api/notes", &note);
                assert_eq!(status, 200, "{answer}");
                std::thread::sleep(std::time::Duration::from_millis(130));
            }
        });
        scope.spawn(|| {
            for k in 0..EACH {
                let said = run(&["note", text(&recording), &format!("side verb {k}")]);
                assert_eq!(said.code, Some(0), "{}", said.err);
                assert!(!said.err.contains("no recorder"), "{}", said.err);
            }
        });
        scope.spawn(|| {
            // One person has one spreadsheet: the rows pile up in it, and each saving overwrites what
            // the other two wrote since it was opened.
            for k in 0..EACH {
                let words = format!("side sheet {k}");
                save_as_a_spreadsheet(&recording, &words, std::time::Duration::from_millis(250));
                // It is opened again once what it dropped is back.
                wait_until("dropped rows are back", || {
                    texts(&recording).contains_key(&words)
                });
            }
        });
    });
    wait_until("every note stands in the file", || {
        texts(&recording).len() == 3 * EACH
    });
    assert!(
        texts(&recording).values().all(|n| *n == 1),
        "{:?}",
        texts(&recording)
    );
    // The page shows the same as the file.
    wait_until("the page shows all of them", || {
        let (_, state) = page.get("/api/state");
        state["notes"]
            .as_array()
            .is_some_and(|notes| notes.len() == 3 * EACH)
    });
    let said = program.stop();
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert_eq!(load(&recording).unwrap().notes.len(), 3 * EACH);
    let undone = run(&["note", text(&recording), "--undo"]);
    assert_eq!(undone.code, Some(0), "{}", undone.err);
    assert_eq!(texts(&recording).len(), 3 * EACH, "a note was deleted");
}

#[test]
fn a_note_while_no_recording_runs_is_written_and_says_so() {
    let folder = Scratch::new("idle");
    let recording = folder.join("one");
    run(&["new", text(&recording), "--no-questions"]);
    let said = run(&["note", text(&recording), "--tails", "2"]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert!(
        said.err.contains("no recorder is writing into"),
        "{}",
        said.err
    );
    let file = std::fs::read_to_string(recording.join("notes.csv")).unwrap();
    assert_eq!(file.lines().count(), 2, "{file}");
    let missing = run(&["note", text(&folder.join("none")), "--tails", "2"]);
    assert_eq!(missing.code, Some(2));
    assert!(
        missing.err.contains("no recording is there"),
        "{}",
        missing.err
    );
    assert!(!folder.join("none").exists());
}

#[test]
fn a_page_that_is_gone_takes_no_note() {
    let folder = Scratch::new("gone");
    let recording = folder.join("one");
    let socket = Socket::open();
    let program = Program::start(&["record", text(&recording), "--port", &socket.address]);
    let _rig = socket.plug(Plugged::default());
    let page = Page::of(&program);
    assert_eq!(program.stop().code, Some(0));
    assert!(std::net::TcpStream::connect(&page.host).is_err());
}

#[test]
fn forged_requests_and_floods_write_nothing() {
    let folder = Scratch::new("forged");
    let recording = folder.join("one");
    let socket = Socket::open();
    let program = Program::start(&["record", text(&recording), "--port", &socket.address]);
    let _rig = socket.plug(Plugged::default());
    let page = Page::of(&program);
    let own = format!("http://{}", page.host);
    let note = r#"{"id":"forged-0001","tails":1}"#;
    let long = format!(r#"{{"id":"forged-0002","text":"{}"}}"#, "x".repeat(9_000));
    for (status, host, origin, token, body) in [
        (
            421,
            "bench.example:4720",
            own.as_str(),
            page.token.as_str(),
            note,
        ),
        (403, &page.host, "http://bench.example", &page.token, note),
        (403, &page.host, "null", &page.token, note),
        (
            401,
            &page.host,
            &own,
            "00112233445566778899aabbccddeeff",
            note,
        ),
        (401, &page.host, &own, "", note),
        (413, &page.host, &own, &page.token, &long),
        (
            400,
            &page.host,
            &own,
            &page.token,
            r#"{"id":"forged-0003","path":"/etc"}"#,
        ),
    ] {
        let answered = page.post_as("/api/notes", host, origin, token, body).0;
        assert_eq!(answered, status, "{host} {origin} {body:.40}");
    }
    let statuses: Vec<u16> = (0..40)
        .map(|k| {
            let body = json!({"id": format!("flood-{k:04}"), "tails": 9});
            page.post("/api/notes", &body).0
        })
        .collect();
    assert!(statuses.contains(&429), "{statuses:?}");
    let (_, state) = page.get("/api/state");
    assert_eq!(state["notes"], json!([]));
    assert_eq!(program.stop().code, Some(0));
}
