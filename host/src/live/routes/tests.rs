//! Each refusal and each right, without a socket.

use std::net::Ipv4Addr;

use super::*;
use crate::live::snapshot::Snapshot;
use crate::recording::notes::Note;

#[derive(Default)]
struct Paper {
    written: Mutex<Vec<(Note, String)>>,
    undone: Mutex<u32>,
}

impl Desk for Paper {
    fn add_note(&self, note: Note, id: &str) -> Result<(), DeskError> {
        self.written.lock().unwrap().push((note, id.to_owned()));
        Ok(())
    }

    fn undo(&self, _unix_s: f64, _id: &str) -> Result<(), DeskError> {
        *self.undone.lock().unwrap() += 1;
        Err(DeskError::NothingToUndo)
    }
}

const HOST: &str = "127.0.0.1:4720";
const SHARED_HOST: &str = "10.1.2.3:4720";

fn site(is_shared: bool) -> (Site, Arc<Paper>) {
    let paper = Arc::new(Paper::default());
    let content = Content::Bench {
        hub: Arc::new(Hub::new(Snapshot::default())),
        desk: Arc::clone(&paper) as Arc<dyn Desk>,
        calibration: Arc::new(CalibrationDesk {
            readings: Arc::default(),
            folder: std::env::temp_dir().join("tipcurve-no-such-folder"),
            full_scale_pa: None,
            utc_offset_s: 0.0,
        }),
    };
    let hosts = vec![HOST.to_owned(), SHARED_HOST.to_owned()];
    (Site::new(content, hosts, is_shared).unwrap(), paper)
}

fn get(path: &str) -> Call<'_> {
    Call {
        method: "GET",
        path,
        host: Some(HOST),
        origin: None,
        fetch_site: None,
        authorization: None,
        content_type: None,
        peer: IpAddr::V4(Ipv4Addr::LOCALHOST),
        over_loopback: true,
        body: b"",
        now_s: 0.0,
        now_unix_s: 1.0e9,
    }
}

fn post<'a>(path: &'a str, authorization: &'a str, body: &'a [u8]) -> Call<'a> {
    Call {
        method: "POST",
        origin: Some("http://127.0.0.1:4720"),
        authorization: Some(authorization),
        content_type: Some("application/json"),
        body,
        ..get(path)
    }
}

fn status(answer: &Answer) -> u16 {
    match answer {
        Answer::File(_) | Answer::Events(_) => 200,
        Answer::Json(status, _) | Answer::Refusal(status, _) => *status,
    }
}

const NOTE: &[u8] = br#"{"id":"abcd-1234","tails":1}"#;

#[test]
fn a_note_is_written_with_the_owners_token_only() {
    let (site, paper) = site(false);
    let (owner, viewer) = site.token_texts();
    for (token, expected) in [
        (format!("Bearer {owner}"), 200),
        (format!("Bearer {viewer}"), 401),
        ("Bearer 00000000000000000000000000000000".to_owned(), 401),
        (String::new(), 401),
    ] {
        let answer = site.answer(&post("/api/notes", &token, NOTE));
        assert_eq!(status(&answer), expected, "{answer:?}");
    }
    assert_eq!(paper.written.lock().unwrap().len(), 1);
}

#[test]
fn forged_host_origin_site_and_content_type_are_refused() {
    let (site, paper) = site(false);
    let token = format!("Bearer {}", site.token_texts().0);
    let good = post("/api/notes", &token, NOTE);
    let forgeries = [
        (
            421,
            Call {
                host: Some("evil.example:4720"),
                ..good
            },
        ),
        (421, Call { host: None, ..good }),
        (
            403,
            Call {
                origin: Some("http://evil.example"),
                ..good
            },
        ),
        (
            403,
            Call {
                origin: Some("null"),
                ..good
            },
        ),
        (
            403,
            Call {
                origin: None,
                ..good
            },
        ),
        (
            403,
            Call {
                fetch_site: Some("cross-site"),
                ..good
            },
        ),
        (
            403,
            Call {
                fetch_site: Some("same-site"),
                ..good
            },
        ),
        (
            415,
            Call {
                content_type: Some("text/plain"),
                ..good
            },
        ),
        (
            415,
            Call {
                content_type: None,
                ..good
            },
        ),
        (
            405,
            Call {
                method: "PUT",
                ..good
            },
        ),
        (
            405,
            Call {
                method: "OPTIONS",
                ..good
            },
        ),
    ];
    for (expected, call) in forgeries {
        assert_eq!(status(&site.answer(&call)), expected, "{call:?}");
    }
    assert_eq!(
        status(&site.answer(&Call {
            host: Some("evil.example"),
            ..get("/")
        })),
        421
    );
    assert!(paper.written.lock().unwrap().is_empty());
}

#[test]
fn over_the_network_even_looking_needs_a_token() {
    let (site, _) = site(true);
    let far = Call {
        over_loopback: false,
        host: Some(SHARED_HOST),
        ..get("/api/events")
    };
    assert_eq!(status(&site.answer(&far)), 401);
    let viewer = format!("Bearer {}", site.token_texts().1);
    let near = Call {
        authorization: Some(&viewer),
        ..far
    };
    assert_eq!(site.answer(&near), Answer::Events(Right::Read));
    assert_eq!(
        site.answer(&get("/api/events")),
        Answer::Events(Right::Read)
    );
    assert_eq!(status(&site.answer(&Call { path: "/", ..far })), 200);
}

#[test]
fn a_phone_is_paired_once_by_code_and_may_then_write() {
    let (site, paper) = site(true);
    let code = site.open_pairing(0.0).unwrap();
    let body = format!(r#"{{"code":"{code}"}}"#);
    let call = Call {
        host: Some(SHARED_HOST),
        origin: Some("http://10.1.2.3:4720"),
        over_loopback: false,
        ..post("/api/pair", "", body.as_bytes())
    };
    let Answer::Json(200, text) = site.answer(&call) else {
        panic!("not paired")
    };
    let token = text.split('"').nth(3).unwrap().to_owned();
    let write = Call {
        path: "/api/notes",
        body: NOTE,
        ..call
    };
    let authorization = format!("Bearer {token}");
    let write = Call {
        authorization: Some(&authorization),
        ..write
    };
    assert_eq!(status(&site.answer(&write)), 200);
    assert_eq!(paper.written.lock().unwrap().len(), 1);
    assert_eq!(status(&site.answer(&call)), 410, "a code works once");
    let invite = Call {
        path: "/api/pairing",
        body: b"{}",
        ..write
    };
    assert_eq!(status(&site.answer(&invite)), 401, "a guest may not invite");
}

#[test]
fn a_page_that_is_not_shared_opens_no_code() {
    let (site, _) = site(false);
    let token = format!("Bearer {}", site.token_texts().0);
    let answer = site.answer(&post("/api/pairing", &token, b"{}"));
    assert_eq!(status(&answer), 409);
}

#[test]
fn sizes_and_rates_are_limited() {
    let (site, paper) = site(false);
    let token = format!("Bearer {}", site.token_texts().0);
    let large = vec![b' '; MOST_BODY + 1];
    assert_eq!(
        status(&site.answer(&post("/api/notes", &token, &large))),
        413
    );
    let long = "/".repeat(500);
    assert_eq!(status(&site.answer(&get(&long))), 414);
    let answers: Vec<u16> = (0..60)
        .map(|_| status(&site.answer(&post("/api/notes", &token, NOTE))))
        .collect();
    assert_eq!(answers.iter().filter(|s| **s == 200).count(), 20);
    assert_eq!(answers.last(), Some(&429));
    assert_eq!(paper.written.lock().unwrap().len(), 20);
}

#[test]
fn nothing_but_the_pages_own_files_is_served() {
    let (site, _) = site(false);
    for path in [
        "/etc/passwd",
        "/assets/../Cargo.toml",
        "/assets/",
        "/assets/%2e%2e/x",
        "//",
        "",
    ] {
        assert_eq!(status(&site.answer(&get(path))), 404, "{path}");
    }
    assert_eq!(status(&site.answer(&get("/assets/bench.js"))), 200);
}

#[test]
fn undo_without_a_note_says_so() {
    let (site, paper) = site(false);
    let token = format!("Bearer {}", site.token_texts().0);
    let answer = site.answer(&post("/api/undo", &token, br#"{"id":"abcd-1234"}"#));
    assert_eq!(
        answer,
        Answer::Refusal(409, "there is no note to take back".to_owned())
    );
    assert_eq!(*paper.undone.lock().unwrap(), 1);
    assert_eq!(status(&site.answer(&post("/api/undo", &token, b"{}"))), 400);
}

proptest::proptest! {
    #[test]
    fn no_request_makes_it_panic_or_write(
        method in "GET|POST|HEAD|[A-Z]{1,8}",
        path in "(/api/[a-z]{0,8})|(/assets/[ -~]{0,40})|[ -~]{0,200}",
        body in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..200),
        authorization in "(Bearer [0-9a-f]{0,40})|[ -~]{0,60}",
    ) {
        let (site, paper) = site(true);
        let call = Call { method: &method, ..post(&path, &authorization, &body) };
        let _ = site.answer(&call);
        proptest::prop_assert!(paper.written.lock().unwrap().is_empty());
    }
}

#[test]
fn a_calibration_needs_the_right_to_write_and_the_caution_confirmed() {
    let (site, _) = site(false);
    let (owner, viewer) = site.token_texts();
    let (owner, viewer) = (format!("Bearer {owner}"), format!("Bearer {viewer}"));
    for path in ["mean", "start", "stop", "write"] {
        let path = format!("/api/calibrate/{path}");
        assert_eq!(status(&site.answer(&post(&path, &viewer, b"{}"))), 401);
    }
    let ask = |path: &str, body: &[u8]| site.answer(&post(path, &owner, body));
    let Answer::Refusal(409, why) = ask("/api/calibrate/mean", br#"{"seconds":5}"#) else {
        panic!("no logger, no mean")
    };
    assert!(why.starts_with("only 0 samples came"), "{why}");
    assert_eq!(
        status(&ask("/api/calibrate/mean", br#"{"seconds":1e9}"#)),
        400
    );
    assert_eq!(status(&ask("/api/calibrate/stop", b"{}")), 409);
    assert_eq!(status(&ask("/api/calibrate/format", b"{}")), 404);
    let body =
        br#"{"operator":"AB","relieved":false,"zero":{"indicated_pa":1,"u_indicated_pa":1}}"#;
    let Answer::Refusal(400, why) = ask("/api/calibrate/write", body) else {
        panic!("the caution was not confirmed")
    };
    assert!(why.starts_with("pressure must be relieved"), "{why}");
    let unknown = br#"{"operator":"AB","file":"/x"}"#;
    assert_eq!(status(&ask("/api/calibrate/write", unknown)), 400);
}
