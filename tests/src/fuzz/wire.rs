//! Bytes into the readers of the wire.

use tipcurve::recording::decode::{Decoder, read_log};
use tipcurve_protocol::frame::{self, DELIMITER, MAX_FRAME_BYTES};
use tipcurve_protocol::{Block, Event, Message, Reader, delta};

/// Events as text, and the reader after them.
fn read(pieces: &[&[u8]]) -> (Vec<String>, Reader) {
    let mut reader = Reader::new();
    let mut events = Vec::new();
    for piece in pieces {
        let mut input = *piece;
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = &event {
                check_message(message);
            }
            events.push(format!("{event:?}"));
        }
    }
    (events, reader)
}

/// What was taken for a message can be written again and is then read as the same; its blocks unpack or say why not.
fn check_message(message: &Message<'_>) {
    match message {
        Message::Samples(samples) => {
            let mut codes = vec![0; samples.block.len()];
            let _ = samples.block.decode(&mut codes);
        }
        Message::Edges(edges) => {
            let mut ticks = vec![0; edges.len()];
            let _ = edges.decode(&mut ticks);
        }
        _ => {}
    }
    let mut buffer = [0; MAX_FRAME_BYTES];
    let Ok(bytes) = frame::encode(message, &mut buffer) else {
        return;
    };
    let mut again = Reader::new();
    let mut input = bytes;
    assert_eq!(
        again.next(&mut input),
        Some(Event::Message(message.clone()))
    );
}

/// Any bytes, in any pieces: the same in one piece as byte by byte, and every byte is accounted for.
pub fn check_stream(data: &[u8]) {
    let (whole, mut reader) = read(&[data]);
    let bytes: Vec<&[u8]> = data.chunks(1).collect();
    let (single, _) = read(&bytes);
    assert_eq!(whole, single);
    let _ = reader.finish();
    assert_eq!(reader.counts().bytes, data.len() as u64);
}

/// Four bytes a code: a block that can be written is read back equal.
pub fn check_block(data: &[u8]) {
    let words = data.chunks_exact(4);
    let codes: Vec<i32> = words
        .map(|word| {
            word.iter()
                .fold(0, |code, byte| code << 8 | i32::from(*byte))
        })
        .collect();
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let Ok(block) = Block::encode(&codes, &mut planes) else {
        assert!(codes.len() > delta::MAX_CODES || codes.is_empty());
        return;
    };
    let mut back = vec![0; block.len()];
    assert_eq!(block.decode(&mut back), Ok(()));
    assert_eq!(back, codes);
}

/// Any body in a sound frame: random bytes never get past the check, and most of the reader lies behind it.
pub fn check_frame(data: &[u8]) {
    let stream = framed(data);
    let (events, _) = read(&[&stream]);
    assert_eq!(events.len(), 1, "one frame, one event: {events:?}");
}

/// Stuffing by the `cobs` crate, check of the stuffed bytes in five bytes of seven bits, delimiter (`WIRE.md`).
#[must_use]
pub fn framed(body: &[u8]) -> Vec<u8> {
    // A body of nothing but a delimiter would be no frame at all.
    let mut stream = cobs::encode_vec(body);
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&stream);
    let check = (0..5).map(|group| (crc >> (7 * group)).to_le_bytes()[0] | 0x80);
    stream.extend(check);
    stream.push(DELIMITER);
    stream
}

/// Any log: the host's decoder gives columns of one length, in the order of time, without a NaN, the same in two
/// portions as on two processors.
pub fn check_log(data: &[u8]) {
    check_stretch(data);
    // Few damaged frames pass their check: the same bytes once more as the bodies of sound frames.
    let bodies = data.split(|byte| *byte == BETWEEN_BODIES);
    let framed: Vec<u8> = bodies.flat_map(framed).collect();
    check_stretch(&framed);
}

/// Ends a body in the bytes that [`check_log`] makes frames of.
const BETWEEN_BODIES: u8 = 0xa5;

fn check_stretch(data: &[u8]) {
    let mut decoder = Decoder::new();
    // The first byte cuts the log in two, so that a message may lie across portions.
    let cut = data.first().map_or(0, |cut| usize::from(*cut));
    let (head, tail) = data.split_at(cut.min(data.len()));
    decoder.push(head);
    decoder.push(tail);
    let decoded = decoder.finish();
    let at_once = read_log(data, 0, []).expect("memory gives no error");
    assert_eq!(decoded, at_once);
    let log = decoded.log;
    assert_eq!(log.t_s.len(), log.pressure_code.len());
    assert!(log.t_s.iter().all(|t_s: f64| t_s.is_finite()));
    assert!(log.t_s.to_vec().windows(2).all(|pair| pair[0] < pair[1]));
    assert!(log.edge_t_s.iter().all(|t_s| t_s.is_finite()));
    assert!(log.pressure_scale.pa_per_code.is_finite());
}
