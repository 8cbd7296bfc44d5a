//! Follows one recorder's stream of events, as a browser would, and keeps the wall up to date.

use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use http_body_util::{BodyExt, Empty};
use hyper::Request;
use hyper::body::Incoming;
use hyper::header;
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;

use super::{BenchAddress, WallBench, WallFeed};
use crate::live::server::ServeError;
use crate::live::snapshot::{Snapshot, Update};

/// Between two tries to reach a bench.
const RETRY: Duration = Duration::from_secs(2);

/// A recorder sends at least every five seconds; this much silence means that it is gone.
const SILENCE: Duration = Duration::from_secs(12);

/// Longest event: five minutes of trace are a third of it.
const MOST_EVENT: usize = 2 * 1024 * 1024;

/// Starts following every bench on a thread of its own, for as long as the program runs.
///
/// # Errors
/// [`ServeError::Start`].
pub fn start(addresses: Vec<BenchAddress>, feed: Arc<WallFeed>) -> Result<(), ServeError> {
    let fault = |source| ServeError::Start { source };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()
        .map_err(fault)?;
    std::thread::Builder::new()
        .name("wall".to_owned())
        .spawn(move || {
            runtime.block_on(async {
                for (index, address) in addresses.into_iter().enumerate() {
                    tokio::spawn(keep_following(index, address, Arc::clone(&feed)));
                }
                std::future::pending::<()>().await;
            });
        })
        .map_err(fault)?;
    Ok(())
}

async fn keep_following(index: usize, address: BenchAddress, feed: Arc<WallFeed>) {
    loop {
        let problem = match follow(index, &address, &feed).await {
            Ok(()) => "the recorder closed the line".to_owned(),
            Err(problem) => problem,
        };
        feed.lose(index, &problem);
        tokio::time::sleep(RETRY).await;
    }
}

async fn follow(index: usize, address: &BenchAddress, feed: &WallFeed) -> Result<(), String> {
    let stream = tokio::time::timeout(SILENCE, TcpStream::connect(&address.host))
        .await
        .map_err(|_| "no answer".to_owned())?
        .map_err(|error| format!("not reached: {error}"))?;
    let (mut sender, connection) = hyper::client::conn::http1::handshake(TokioIo::new(stream))
        .await
        .map_err(|_| "no HTTP there".to_owned())?;
    tokio::spawn(connection);
    let mut request = Request::get("/api/events").header(header::HOST, &address.host);
    if !address.token.is_empty() {
        request = request.header(header::AUTHORIZATION, format!("Bearer {}", address.token));
    }
    let request = request
        .body(Empty::<Bytes>::new())
        .map_err(|_| "the address cannot be asked".to_owned())?;
    let response = tokio::time::timeout(SILENCE, sender.send_request(request))
        .await
        .map_err(|_| "no answer".to_owned())?
        .map_err(|_| "the line broke".to_owned())?;
    match response.status().as_u16() {
        200 => read_events(index, address, feed, response.into_body()).await,
        401 => Err("not let in: use the wall link that its recorder printed".to_owned()),
        status => Err(format!("answered {status}")),
    }
}

async fn read_events(
    index: usize,
    address: &BenchAddress,
    feed: &WallFeed,
    mut body: Incoming,
) -> Result<(), String> {
    let mut events = EventReader::default();
    let mut snapshot = Snapshot::default();
    loop {
        let Some(frame) = tokio::time::timeout(SILENCE, body.frame())
            .await
            .map_err(|_| "silent".to_owned())?
        else {
            return Ok(());
        };
        let Ok(frame) = frame.map_err(|_| "the line broke".to_owned())?.into_data() else {
            continue;
        };
        for (name, data) in events.feed(&frame)? {
            take_event(&mut snapshot, &name, &data)?;
            feed.show(index, WallBench::of(&address.host, &snapshot));
        }
    }
}

fn take_event(snapshot: &mut Snapshot, name: &str, data: &str) -> Result<(), String> {
    let unread = |_| "its stream cannot be read: is it another version?".to_owned();
    match name {
        "whole" => *snapshot = serde_json::from_str(data).map_err(unread)?,
        "update" => snapshot.merge(serde_json::from_str::<Update>(data).map_err(unread)?),
        _ => {}
    }
    Ok(())
}

/// Bytes of an event stream to (name, data) pairs; comments are left out.
#[derive(Debug, Default)]
struct EventReader {
    rest: Vec<u8>,
}

impl EventReader {
    fn feed(&mut self, bytes: &[u8]) -> Result<Vec<(String, String)>, String> {
        self.rest.extend_from_slice(bytes);
        let mut events = Vec::new();
        while let Some(end) = self.rest.windows(2).position(|pair| pair == b"\n\n") {
            let block: Vec<u8> = self.rest.drain(..end + 2).collect();
            let block = String::from_utf8_lossy(&block);
            let line = |name| {
                block
                    .lines()
                    .find_map(|line| line.strip_prefix(name))
                    .map(str::to_owned)
            };
            if let (Some(name), Some(data)) = (line("event: "), line("data: ")) {
                events.push((name, data));
            }
        }
        if self.rest.len() > MOST_EVENT {
            return Err("its stream cannot be read: an event is too long".to_owned());
        }
        Ok(events)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_are_read_whole_however_the_bytes_are_cut() {
        let text = b"event: a\ndata: 1\n\n:\n\nevent: b\ndata: {\"x\":2}\n\n";
        for cut in 1..text.len() {
            let mut reader = EventReader::default();
            let mut events = reader.feed(&text[..cut]).unwrap();
            events.extend(reader.feed(&text[cut..]).unwrap());
            let names: Vec<&str> = events.iter().map(|(name, _)| name.as_str()).collect();
            assert_eq!(names, ["a", "b"], "cut at {cut}");
            assert_eq!(events[1].1, "{\"x\":2}");
        }
    }

    #[test]
    fn an_endless_event_is_refused() {
        let mut reader = EventReader::default();
        let chunk = vec![b'x'; 64 * 1024];
        let refused = (0..100).any(|_| reader.feed(&chunk).is_err());
        assert!(refused);
    }
}
