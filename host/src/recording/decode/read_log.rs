//! A whole log from where it is kept, on two processors: one hears what the next portion says while the other
//! puts the one before into columns.

use std::io::{self, Read};
use std::sync::mpsc::{Receiver, SyncSender, channel, sync_channel};
use std::thread::{self, Builder};

use tipcurve_protocol::Damage;

use super::heard::{Heard, Listener};
use super::{Arrival, Decoded, State};

/// Bytes of the log that are heard at a time: what they say then still lies in a processor's cache when it
/// is put into columns.
const PORTION_BYTES: usize = 1 << 18;

/// Portions heard ahead. More would only wait longer, outside the cache.
const AHEAD: usize = 2;

/// So much of the log is heard before it is estimated how many samples the whole one holds, bytes.
const ESTIMATED_FROM_BYTES: u64 = 1 << 20;

/// Decodes a log of about `bytes_expected` bytes, whose portions arrived as listed.
///
/// *Cost*: linear in the log; memory is the columns and a few portions of the log.
///
/// # Errors
/// What `log` says when it is read; what the system says when it has no thread to give.
pub fn read_log(
    mut log: impl Read + Send,
    bytes_expected: u64,
    arrivals: impl IntoIterator<Item = Arrival>,
) -> io::Result<Decoded> {
    let mut state = State::default();
    for arrival in arrivals {
        state.arrivals.push(arrival);
    }
    thread::scope(|scope| {
        let (tell, heard) = sync_channel(AHEAD);
        let (give_back, used) = channel();
        let listening = Builder::new()
            .spawn_scoped(scope, move || listen_to(&mut log, &tell, &used))
            .map_err(|fault| no_thread(&fault))?;
        let mut is_estimated = false;
        for portion in heard {
            state.take(&portion);
            if !is_estimated && portion.end_byte >= ESTIMATED_FROM_BYTES {
                is_estimated = true;
                let to_come = bytes_expected.saturating_sub(portion.end_byte);
                state.reserve(portion.end_byte, to_come);
            }
            // The other side may have reached the end already, and needs no more buffers.
            let _ = give_back.send(portion);
        }
        let (n_bytes, torn) = listening
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
        state.torn(torn);
        Ok(state.finish(n_bytes))
    })
}

/// It is not the log that is at fault.
fn no_thread(fault: &io::Error) -> io::Error {
    let message = format!(
        "the system gave no thread to read it with ({fault}); close other programs, then try again"
    );
    io::Error::new(fault.kind(), message)
}

/// Hears a log to its end; how long it was, and the frame that it broke off in.
fn listen_to(
    log: &mut impl Read,
    tell: &SyncSender<Heard>,
    used: &Receiver<Heard>,
) -> io::Result<(u64, Option<Damage>)> {
    let mut listener = Listener::default();
    let mut bytes = vec![0; PORTION_BYTES];
    loop {
        let n = match log.read(&mut bytes) {
            Ok(0) => break,
            Ok(n) => n,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        let mut heard = used.try_recv().unwrap_or_default();
        listener.listen(&bytes[..n], &mut heard);
        if tell.send(heard).is_err() {
            // Nobody listens to the listener: the other side panicked, and says so itself.
            break;
        }
    }
    Ok((listener.end_byte(), listener.finish()))
}
