//! Any request to the bench page: an answer with a known status, and nothing written without the owner's token.
//!
//! What is tried is everything behind the HTTP library, which splits a request into its parts: the parts come from the
//! data in the form of a request.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, LazyLock};

use tipcurve::live::calibrating::CalibrationDesk;
use tipcurve::live::desk::{Desk, DeskError};
use tipcurve::live::hub::Hub;
use tipcurve::live::routes::{Answer, Call, Content, MOST_BODY, Site};
use tipcurve::live::snapshot::Snapshot;
use tipcurve::recording::notes::Note;

const HOST: &str = "127.0.0.1:4720";

/// Stands in the data for the owner's token, which is random.
const OWNER: &str = "Bearer OWNER";

#[derive(Default)]
struct Paper(AtomicU32);

impl Desk for Paper {
    fn add_note(&self, note: Note, _: &str) -> Result<(), DeskError> {
        self.0.fetch_add(1, Ordering::Relaxed);
        let text = tipcurve::recording::notes::write(&[note], 0.0);
        let read = tipcurve::recording::notes::read(text.as_bytes());
        assert!(read.is_ok_and(|notes| notes.len() == 1), "{text:?}");
        Ok(())
    }

    fn undo(&self, _: f64, _: &str) -> Result<(), DeskError> {
        self.0.fetch_add(1, Ordering::Relaxed);
        Ok(())
    }
}

struct Bench {
    site: Site,
    paper: Arc<Paper>,
    owner: String,
}

/// One bench for all requests, as in life: what one request does must not open a door for the next.
static BENCH: LazyLock<Bench> = LazyLock::new(|| {
    let paper = Arc::new(Paper::default());
    let content = Content::Bench {
        hub: Arc::new(Hub::new(Snapshot::default())),
        desk: Arc::clone(&paper) as Arc<dyn Desk>,
        // A folder that is not there: no request may leave a file behind.
        calibration: Arc::new(CalibrationDesk {
            readings: Arc::default(),
            folder: std::env::temp_dir().join("tipcurve-no-such-folder"),
            full_scale_pa: None,
            utc_offset_s: 0.0,
        }),
    };
    let site = Site::new(content, vec![HOST.to_owned()], false).expect("the system has randomness");
    let owner = format!("Bearer {}", site.token_texts().0);
    Bench { site, paper, owner }
});

/// A request: method and path in the first line, headers up to an empty line, the rest is the body.
///
/// # Panics
/// When an answer breaks a rule.
pub fn check_request(data: &[u8]) {
    let bench = &*BENCH;
    let head_end = data
        .windows(2)
        .position(|pair| pair == b"\n\n")
        .unwrap_or(data.len());
    let head = String::from_utf8_lossy(&data[..head_end]);
    let body = data.get(head_end + 2..).unwrap_or_default();
    let mut lines = head.lines();
    let (method, path) = lines
        .next()
        .unwrap_or("")
        .split_once(' ')
        .unwrap_or(("", ""));
    let header = |name: &str| {
        let mut found = head.lines().filter_map(|line| line.split_once(": "));
        found.find_map(|(key, value)| key.eq_ignore_ascii_case(name).then_some(value))
    };
    let is_owner = header("authorization") == Some(OWNER);
    let authorization = if is_owner {
        Some(bench.owner.as_str())
    } else {
        header("authorization")
    };
    let before = bench.paper.0.load(Ordering::Relaxed);
    // A peer of its own for each request, or the limit of the rate would answer for the rest.
    let [a, b, c, ..] = (data.len() as u64 ^ u64::from(before)).to_le_bytes();
    let answer = bench.site.answer(&Call {
        method,
        path,
        host: header("host"),
        origin: header("origin"),
        fetch_site: header("sec-fetch-site"),
        authorization,
        content_type: header("content-type"),
        peer: IpAddr::V4(Ipv4Addr::new(10, a, b, c)),
        over_loopback: !is_owner || header("x-peer").is_none(),
        body: &body[..body.len().min(MOST_BODY + 1)],
        now_s: f64::from(before) * 10.0,
        now_unix_s: 1.0e9,
    });
    let n_written = bench.paper.0.load(Ordering::Relaxed) - before;
    match answer {
        Answer::File(_) | Answer::Events(_) => assert_eq!(n_written, 0),
        Answer::Json(status, text) => {
            assert_eq!(status, 200);
            assert!(serde_json::from_str::<serde_json::Value>(&text).is_ok());
            assert!(
                n_written <= u32::from(is_owner),
                "written without the token"
            );
        }
        Answer::Refusal(status, why) => {
            assert!((400..600).contains(&status) && !why.is_empty());
            assert!(
                n_written <= u32::from(is_owner),
                "written without the token"
            );
            // Who sends the token knows it: a refusal may quote what it was sent.
            let token = &bench.owner[7..];
            let is_sent = String::from_utf8_lossy(data).contains(token);
            assert!(is_sent || !why.contains(token), "the token in a refusal");
        }
    }
}
