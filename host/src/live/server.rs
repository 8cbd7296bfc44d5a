//! HTTP/1.1 on a thread of its own: sockets, sizes and times. What is allowed is decided in
//! `routes`.
//!
//! Bound to the loopback interface, and to another address only when asked to. Connections, viewers,
//! header and body sizes and the time for each are limited, so that a slow or greedy client
//! costs a little memory and nothing else: the recorder runs on other threads.

mod events;

use std::convert::Infallible;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use bytes::Bytes;
use http_body_util::combinators::BoxBody;
use http_body_util::{BodyExt, Full, Limited};
use hyper::body::Incoming;
use hyper::header::{self, HeaderMap, HeaderValue};
use hyper::service::service_fn;
use hyper::{Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use thiserror::Error;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};

use super::routes::{Answer, Call, MOST_BODY, Site};

/// Connections at once: a class of twenty with two tabs each, and the wall.
const MOST_CONNECTIONS: usize = 64;

/// Time for a client to send its header, and for its next request to begin.
const HEADER_TIME: Duration = Duration::from_secs(10);

/// Time for a client to send its body.
const BODY_TIME: Duration = Duration::from_secs(5);

/// Header and read buffer, bytes.
const MOST_HEADER: usize = 16 * 1024;

/// Header lines.
const MOST_HEADERS: usize = 64;

type Body = BoxBody<Bytes, Infallible>;

/// Why the page is not served.
#[derive(Debug, Error)]
pub enum ServeError {
    /// The address could not be bound.
    #[error(
        "page address {address}: {source}; choose another port with --page-port, or record with \
         --no-page"
    )]
    Bind {
        /// Address.
        address: SocketAddr,
        /// The system's word.
        source: io::Error,
    },
    /// The server's thread could not start.
    #[error("the page could not start ({source}); record with --no-page")]
    Start {
        /// The system's word.
        source: io::Error,
    },
}

/// A running server. Dropping it stops it.
#[derive(Debug)]
pub struct Server {
    stop: watch::Sender<bool>,
    thread: Option<JoinHandle<()>>,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.stop.send(true);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Binds one address; port 0 lets the system choose.
///
/// # Errors
/// [`ServeError::Bind`].
pub fn bind(address: SocketAddr) -> Result<std::net::TcpListener, ServeError> {
    let bound = || {
        let listener = std::net::TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        Ok(listener)
    };
    bound().map_err(|source| ServeError::Bind { address, source })
}

/// Serves a site on the listeners until the server is dropped.
///
/// # Errors
/// [`ServeError::Start`].
pub fn serve(listeners: Vec<std::net::TcpListener>, site: Arc<Site>) -> Result<Server, ServeError> {
    let start = |source| ServeError::Start { source };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .max_blocking_threads(4)
        .build()
        .map_err(start)?;
    let (stop, stopped) = watch::channel(false);
    let thread = std::thread::Builder::new()
        .name("page".to_owned())
        .spawn(move || {
            runtime.block_on(run(listeners, site, stopped));
            // Streams of viewers end with the runtime; a blocked disk may not hold the exit up.
            runtime.shutdown_timeout(Duration::from_millis(200));
        })
        .map_err(start)?;
    Ok(Server {
        stop,
        thread: Some(thread),
    })
}

async fn run(
    listeners: Vec<std::net::TcpListener>,
    site: Arc<Site>,
    mut stopped: watch::Receiver<bool>,
) {
    let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let begun = Instant::now();
    for listener in listeners {
        let Ok(listener) = TcpListener::from_std(listener) else {
            continue;
        };
        tokio::spawn(accept(
            listener,
            Arc::clone(&site),
            Arc::clone(&room),
            begun,
        ));
    }
    let _ = stopped.wait_for(|stop| *stop).await;
}

async fn accept(listener: TcpListener, site: Arc<Site>, room: Arc<Semaphore>, begun: Instant) {
    loop {
        let Ok((stream, peer)) = listener.accept().await else {
            // Out of file descriptors, most likely: wait for some to come free.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        // No room: the connection is closed at once, which a browser tries again.
        let Ok(permit) = Arc::clone(&room).try_acquire_owned() else {
            continue;
        };
        let site = Arc::clone(&site);
        tokio::spawn(async move {
            connection(stream, peer, site, begun).await;
            drop(permit);
        });
    }
}

async fn connection(stream: TcpStream, peer: SocketAddr, site: Arc<Site>, begun: Instant) {
    let _ = stream.set_nodelay(true);
    let over_loopback =
        peer.ip().is_loopback() && stream.local_addr().is_ok_and(|own| own.ip().is_loopback());
    let place = Place {
        peer,
        over_loopback,
        begun,
    };
    let service = service_fn(move |request| {
        let site = Arc::clone(&site);
        async move { Ok::<_, Infallible>(respond(request, &site, place).await) }
    });
    // An error here is the client's: it went away, was too slow or sent no HTTP.
    let _ = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEADER_TIME)
        .max_buf_size(MOST_HEADER)
        .max_headers(MOST_HEADERS)
        .serve_connection(TokioIo::new(stream), service)
        .await;
}

#[derive(Clone, Copy)]
struct Place {
    peer: SocketAddr,
    over_loopback: bool,
    begun: Instant,
}

async fn respond(request: Request<Incoming>, site: &Arc<Site>, place: Place) -> Response<Body> {
    let (parts, body) = request.into_parts();
    let body = if parts.method == hyper::Method::POST {
        let whole = Limited::new(body, MOST_BODY).collect();
        match tokio::time::timeout(BODY_TIME, whole).await {
            Ok(Ok(whole)) => whole.to_bytes(),
            Ok(Err(_)) => {
                return refusal(413, "the request is too large; nothing was written");
            }
            Err(_) => return refusal(408, "the request took too long; nothing was written"),
        }
    } else {
        Bytes::new()
    };
    let site = Arc::clone(site);
    // A note waits for the disk: not on the thread that serves the viewers.
    let decided = tokio::task::spawn_blocking({
        let site = Arc::clone(&site);
        move || decide(&parts, &body, &site, place)
    })
    .await;
    match decided {
        Ok(Answer::File(asset)) => response(200, asset.media_type, asset.body.into()),
        Ok(Answer::Json(status, text)) => response(status, "application/json", text.into()),
        Ok(Answer::Events(right)) => events::response(&site, right),
        Ok(Answer::Refusal(status, why)) => refusal(status, &why),
        Err(_) => refusal(500, "the request could not be answered"),
    }
}

fn decide(parts: &hyper::http::request::Parts, body: &Bytes, site: &Site, place: Place) -> Answer {
    let headers = &parts.headers;
    site.answer(&Call {
        method: parts.method.as_str(),
        path: parts.uri.path(),
        host: text(headers, header::HOST),
        origin: text(headers, header::ORIGIN),
        fetch_site: headers
            .get("sec-fetch-site")
            .and_then(|value| value.to_str().ok()),
        authorization: text(headers, header::AUTHORIZATION),
        content_type: text(headers, header::CONTENT_TYPE),
        peer: place.peer.ip(),
        over_loopback: place.over_loopback,
        body,
        now_s: place.begun.elapsed().as_secs_f64(),
        now_unix_s: unix_now_s(),
    })
}

/// A header that stands once; one that stands twice is as good as none.
fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    let mut values = headers.get_all(name).iter();
    let first = values.next()?;
    if values.next().is_some() {
        return None;
    }
    first.to_str().ok()
}

/// Host time, Unix seconds.
fn unix_now_s() -> f64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0.0, |since| since.as_secs_f64())
}

fn refusal(status: u16, why: &str) -> Response<Body> {
    let text = serde_json::json!({ "error": why }).to_string();
    response(status, "application/json", text.into())
}

fn response(status: u16, media_type: &'static str, body: Bytes) -> Response<Body> {
    with_headers(status, media_type, Full::new(body).boxed())
}

/// Every answer carries these: nothing from outside is loaded, nothing is kept, nothing frames it.
const HEADERS: [(header::HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
         connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; \
         require-trusted-types-for 'script'; trusted-types 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (header::SERVER, "tipcurve"),
];

fn with_headers(status: u16, media_type: &'static str, body: Body) -> Response<Body> {
    let mut response = Response::new(body);
    *response.status_mut() = StatusCode::from_u16(status).unwrap_or(StatusCode::OK);
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(media_type));
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    for (name, value) in [
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        (
            "permissions-policy",
            "camera=(), microphone=(), geolocation=()",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}
