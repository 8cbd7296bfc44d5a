//! Any bytes, in any pieces: the reader never panics, sees the same in one piece as byte by byte, accounts for every
//! byte, and what it takes for a message can be written again and read as the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use tipcurve_protocol::{Event, Reader, frame};

/// Events as text, and the reader after them.
fn read(pieces: &[&[u8]]) -> (Vec<String>, Reader) {
    let mut reader = Reader::new();
    let mut events = Vec::new();
    for piece in pieces {
        let mut input = *piece;
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = &event {
                check_round_trip(message);
            }
            events.push(format!("{event:?}"));
        }
    }
    (events, reader)
}

fn check_round_trip(message: &tipcurve_protocol::Message<'_>) {
    let mut buffer = [0; frame::MAX_FRAME_BYTES];
    let Ok(bytes) = frame::encode(message, &mut buffer) else {
        return;
    };
    let mut again = Reader::<{ frame::MAX_FRAME_BYTES }>::with_limit();
    let mut input = &*bytes;
    assert_eq!(again.next(&mut input), Some(Event::Message(message.clone())));
}

fuzz_target!(|data: &[u8]| {
    let (whole, mut reader) = read(&[data]);
    let bytes: Vec<&[u8]> = data.chunks(1).collect();
    let (single, _) = read(&bytes);
    assert_eq!(whole, single);
    let _ = reader.finish();
    assert_eq!(reader.counts().bytes, data.len() as u64);
});
