//! One request to one answer. What is allowed is decided here, before anything is done.
//!
//! Order of the checks: Host (another name pointing here is refused), where the request comes
//! from (another site's page is refused), right (token), rate, size and shape. Every refusal says why
//! and what to do; none says anything about a secret. No sockets here: see `server`.

mod calibration;

use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use serde::Deserialize;

use super::access::{NoRandomness, Right, Tokens, WriteRate, bearer, is_own_host, is_own_origin};
use super::assets::{self, Asset};
use super::calibrating::CalibrationDesk;
use super::desk::{Desk, DeskError, NoteRequest, check_id};
use super::hub::Hub;
use super::pairing::{Pairing, Try, in_halves};
use super::wall::WallFeed;

/// Longest body of a request, bytes.
pub const MOST_BODY: usize = 8 * 1024;

/// Longest path, bytes.
const MOST_PATH: usize = 128;

/// What the page shows.
#[derive(Clone)]
pub enum Content {
    /// One bench, with its buttons.
    Bench {
        /// Its snapshot.
        hub: Arc<Hub>,
        /// What its buttons do.
        desk: Arc<dyn Desk>,
        /// What its calibration does.
        calibration: Arc<CalibrationDesk>,
    },
    /// Several benches side by side; nothing can be written.
    Wall(Arc<WallFeed>),
}

/// Everything that answers need.
pub struct Site {
    content: Content,
    hosts: Vec<String>,
    tokens: Mutex<Tokens>,
    pairing: Mutex<Pairing>,
    rate: Mutex<WriteRate>,
    is_shared: bool,
}

/// One request as far as it matters.
#[derive(Debug, Clone, Copy)]
pub struct Call<'a> {
    /// Method.
    pub method: &'a str,
    /// Path, without a query.
    pub path: &'a str,
    /// Host header.
    pub host: Option<&'a str>,
    /// Origin header.
    pub origin: Option<&'a str>,
    /// Sec-Fetch-Site header.
    pub fetch_site: Option<&'a str>,
    /// Authorization header.
    pub authorization: Option<&'a str>,
    /// Content-Type header.
    pub content_type: Option<&'a str>,
    /// Who asks.
    pub peer: IpAddr,
    /// True when the request came in over the loopback interface.
    pub over_loopback: bool,
    /// Body, at most [`MOST_BODY`] bytes.
    pub body: &'a [u8],
    /// A steady clock, s.
    pub now_s: f64,
    /// Host time, Unix seconds.
    pub now_unix_s: f64,
}

/// What to send back.
#[derive(Debug, PartialEq)]
pub enum Answer {
    /// A file of the page.
    File(&'static Asset),
    /// Status and JSON.
    Json(u16, String),
    /// The stream of events, for a viewer with this right.
    Events(Right),
    /// Status and what is wrong.
    Refusal(u16, String),
}

impl Site {
    /// A site for `content`, reachable under `hosts` (each `name:port`).
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn new(
        content: Content,
        hosts: Vec<String>,
        is_shared: bool,
    ) -> Result<Self, NoRandomness> {
        Ok(Self {
            content,
            hosts,
            tokens: Mutex::new(Tokens::random()?),
            pairing: Mutex::new(Pairing::default()),
            rate: Mutex::new(WriteRate::default()),
            is_shared,
        })
    }

    /// What the page shows.
    #[must_use]
    pub const fn content(&self) -> &Content {
        &self.content
    }

    /// The owner's and the viewers' token.
    #[must_use]
    pub fn token_texts(&self) -> (String, String) {
        let tokens = lock(&self.tokens);
        (
            tokens.owner().as_str().to_owned(),
            tokens.viewer().as_str().to_owned(),
        )
    }

    /// Opens a new pairing code, in place of any earlier one.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn open_pairing(&self, now_s: f64) -> Result<String, NoRandomness> {
        lock(&self.pairing).open(now_s)
    }

    /// Answers a request.
    #[must_use]
    pub fn answer(&self, call: &Call<'_>) -> Answer {
        if call.path.len() > MOST_PATH {
            return refuse(414, "the address is too long");
        }
        if !is_own_host(call.host, &self.hosts) {
            return refuse(
                421,
                "this server has no such name; open the address that the terminal printed",
            );
        }
        if matches!(call.fetch_site, Some("cross-site" | "same-site")) && call.path != "/" {
            return refuse(403, "another site's page may not ask here");
        }
        match call.method {
            "GET" => self.get(call),
            "POST" => self.post(call),
            _ => refuse(405, "only GET and POST are answered"),
        }
    }

    fn right(&self, call: &Call<'_>) -> Right {
        lock(&self.tokens).right(bearer(call.authorization), call.over_loopback)
    }

    fn get(&self, call: &Call<'_>) -> Answer {
        let home = match self.content {
            Content::Bench { .. } => "/bench.html",
            Content::Wall(_) => "/wall.html",
        };
        match call.path {
            "/" => assets::find(home).map_or_else(no_such, Answer::File),
            "/api/events" | "/api/state" => {
                let right = self.right(call);
                if right < Right::Read {
                    return refuse(
                        401,
                        "this device is not let in yet; open the link, or enter the code that the \
                         terminal printed",
                    );
                }
                if call.path == "/api/events" {
                    return Answer::Events(right);
                }
                self.state()
            }
            path if path.starts_with("/assets/") => {
                assets::find(path).map_or_else(no_such, Answer::File)
            }
            _ => no_such(),
        }
    }

    fn state(&self) -> Answer {
        let text = match &self.content {
            Content::Bench { hub, .. } => serde_json::to_string(&hub.snapshot()),
            Content::Wall(feed) => serde_json::to_string(&feed.view()),
        };
        text.map_or_else(
            |_| refuse(500, "the snapshot could not be written"),
            |text| Answer::Json(200, text),
        )
    }

    fn post(&self, call: &Call<'_>) -> Answer {
        if !is_own_origin(call.origin, call.host.unwrap_or_default()) {
            return refuse(403, "only the page of this server may send this");
        }
        if !is_json(call.content_type) {
            return refuse(415, "the content type must be application/json");
        }
        if call.body.len() > MOST_BODY {
            return refuse(413, "the request is too large; nothing was written");
        }
        if !lock(&self.rate).allow(call.peer, call.now_s) {
            return refuse(429, "too many requests; wait a few seconds");
        }
        if call.path == "/api/pair" {
            return self.pair(call);
        }
        let right = self.right(call);
        match call.path {
            path if needs_write(path) && right < Right::Write => refuse(
                401,
                "this device may only look; open the link, or enter the code that the terminal \
                 printed",
            ),
            path if path.starts_with("/api/calibrate/") => calibration::answer(self, call),
            "/api/notes" => self.add_note(call),
            "/api/undo" => self.undo(call),
            "/api/pairing" if right < Right::Own => {
                refuse(401, "only the computer that records may let others in")
            }
            "/api/pairing" => self.new_code(call),
            _ => no_such(),
        }
    }

    fn pair(&self, call: &Call<'_>) -> Answer {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Typed {
            code: String,
        }
        let Ok(typed) = serde_json::from_slice::<Typed>(call.body) else {
            return refuse(400, "a code is expected");
        };
        match lock(&self.pairing).attempt(&typed.code, call.now_s) {
            Try::Paired => match lock(&self.tokens).pair() {
                Some(token) => json(200, &serde_json::json!({ "token": token.as_str() })),
                None => refuse(503, "too many devices are paired in this session"),
            },
            Try::Wrong => refuse(403, "that is not the code"),
            Try::NoCode => refuse(
                410,
                "there is no open code: each works once and for ten minutes; ask for a new one on \
                 the computer that records",
            ),
        }
    }

    fn new_code(&self, call: &Call<'_>) -> Answer {
        if !self.is_shared {
            return refuse(
                409,
                "this page is not shared; start the recorder with --share to reach it from a phone",
            );
        }
        match self.open_pairing(call.now_s) {
            Ok(code) => json(200, &serde_json::json!({ "code": in_halves(&code) })),
            Err(error) => refuse(500, &error.to_string()),
        }
    }

    fn add_note(&self, call: &Call<'_>) -> Answer {
        let Content::Bench { desk, .. } = &self.content else {
            return no_such();
        };
        let request = match serde_json::from_slice::<NoteRequest>(call.body) {
            Ok(request) => request,
            Err(error) => return refuse(400, &format!("{error}; nothing was written")),
        };
        let id = request.id.clone();
        match request.into_note(call.now_unix_s) {
            Ok(note) => done(desk.add_note(note, &id)),
            Err(fault) => refuse(400, &fault.to_string()),
        }
    }

    fn undo(&self, call: &Call<'_>) -> Answer {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Undo {
            id: String,
        }
        let Content::Bench { desk, .. } = &self.content else {
            return no_such();
        };
        match serde_json::from_slice::<Undo>(call.body) {
            Ok(undo) if check_id(&undo.id).is_ok() => done(desk.undo(call.now_unix_s, &undo.id)),
            _ => refuse(400, "an id is expected; nothing was written"),
        }
    }
}

/// What changes something in the recording's folder.
fn needs_write(path: &str) -> bool {
    matches!(path, "/api/notes" | "/api/undo") || path.starts_with("/api/calibrate/")
}

fn done(outcome: Result<(), DeskError>) -> Answer {
    match outcome {
        Ok(()) => Answer::Json(200, "{}".to_owned()),
        Err(error @ (DeskError::NothingToUndo | DeskError::Ended)) => {
            refuse(409, &error.to_string())
        }
        Err(error @ DeskError::File(_)) => refuse(507, &error.to_string()),
    }
}

fn is_json(content_type: Option<&str>) -> bool {
    content_type
        .and_then(|shown| shown.split(';').next())
        .is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/json"))
}

fn json(status: u16, value: &serde_json::Value) -> Answer {
    Answer::Json(status, value.to_string())
}

fn refuse(status: u16, why: &str) -> Answer {
    Answer::Refusal(status, why.to_owned())
}

fn no_such() -> Answer {
    refuse(404, "there is nothing under this address")
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    // What is kept under these locks is whole after every step, so a panic elsewhere changes nothing.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests;
