//! The stream of server-sent events for one viewer: the whole first, then what changes.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use http_body_util::BodyExt;
use http_body_util::channel::{Channel, Sender};
use hyper::Response;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;

use super::{Body, with_headers};
use crate::live::access::Right;
use crate::live::hub::{Hub, Text};
use crate::live::routes::{Content, Site};
use crate::live::wall::WallFeed;

/// Chunks that may wait for a viewer's line.
const CHUNKS: usize = 8;

/// Something is sent at least this often, so that both ends notice when the other is gone.
const HEARTBEAT: Duration = Duration::from_secs(5);

/// How often the wall is sent.
const WALL_STEP: Duration = Duration::from_millis(300);

/// A viewer that takes nothing for this long is let go.
const PATIENCE: Duration = Duration::from_secs(20);

/// The response that streams events.
pub(super) fn response(site: &Arc<Site>, right: Right) -> Response<Body> {
    let (sender, body) = Channel::<Bytes, Infallible>::new(CHUNKS);
    match site.content() {
        Content::Bench { hub, .. } => {
            tokio::spawn(follow(Arc::clone(hub), sender, right));
        }
        Content::Wall(feed) => {
            tokio::spawn(follow_wall(Arc::clone(feed), sender));
        }
    }
    with_headers(200, "text/event-stream", body.boxed())
}

/// The viewer went away or took nothing.
struct Gone;

async fn follow(hub: Arc<Hub>, mut sender: Sender<Bytes>, right: Right) {
    let right = match right {
        Right::Nothing | Right::Read => "read",
        Right::Write => "write",
        Right::Own => "own",
    };
    let _ = async {
        send(&mut sender, event("right", &format!("\"{right}\""))).await?;
        loop {
            let updates = send_whole(&hub, &mut sender).await?;
            send_updates(updates, &mut sender).await?;
        }
        #[expect(unreachable_code, reason = "the type of the block")]
        Ok::<(), Gone>(())
    }
    .await;
}

async fn send_whole(hub: &Hub, sender: &mut Sender<Bytes>) -> Result<Receiver<Text>, Gone> {
    let (whole, updates) = hub.subscribe();
    let text = serde_json::to_string(&whole).map_err(|_| Gone)?;
    send(sender, event("whole", &text)).await?;
    Ok(updates)
}

/// Sends updates until the viewer is too far behind and needs the whole again.
async fn send_updates(mut updates: Receiver<Text>, sender: &mut Sender<Bytes>) -> Result<(), Gone> {
    loop {
        match tokio::time::timeout(HEARTBEAT, updates.recv()).await {
            Ok(Ok(text)) => send(sender, event("update", &text)).await?,
            Ok(Err(RecvError::Lagged(_))) => return Ok(()),
            Ok(Err(RecvError::Closed)) => return Err(Gone),
            Err(_) => send(sender, Bytes::from_static(b":\n\n")).await?,
        }
    }
}

async fn follow_wall(feed: Arc<WallFeed>, mut sender: Sender<Bytes>) {
    loop {
        let Ok(text) = serde_json::to_string(&feed.view()) else {
            return;
        };
        if send(&mut sender, event("wall", &text)).await.is_err() {
            return;
        }
        tokio::time::sleep(WALL_STEP).await;
    }
}

/// JSON has no line breaks of its own, so that one data line holds it.
fn event(name: &str, json: &str) -> Bytes {
    format!("event: {name}\ndata: {json}\n\n").into()
}

async fn send(sender: &mut Sender<Bytes>, bytes: Bytes) -> Result<(), Gone> {
    match tokio::time::timeout(PATIENCE, sender.send_data(bytes)).await {
        Ok(Ok(())) => Ok(()),
        _ => Err(Gone),
    }
}
