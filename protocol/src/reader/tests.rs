//! Tests of the stream reader: in step again at each delimiter, one report a fault.

use super::{Damage, Event, Reader};
use crate::delta::MAX_PLANE_BYTES;
use crate::frame::{Fault, MAX_FRAME_BYTES, encode};
use crate::message::{Mark, Message, Samples};
use crate::{Block, Refusal};

extern crate std;
use proptest::prelude::{any, prop, proptest};
use std::format;
use std::string::String;
use std::vec;
use std::vec::Vec;

fn mark(number: u32) -> Vec<u8> {
    let message = Message::Mark(Mark {
        first_mark: number,
        device_ticks: u64::from(number) * 1_000_000,
    });
    let mut buffer = [0; MAX_FRAME_BYTES];
    encode(&message, &mut buffer).unwrap().to_vec()
}

/// What a reader makes of a stream that comes in portions, as text that is easy to compare.
fn events(portions: &[&[u8]]) -> Vec<String> {
    let mut reader = Reader::new();
    let mut seen = Vec::new();
    for portion in portions {
        let mut input = *portion;
        while let Some(event) = reader.next(&mut input) {
            seen.push(match event {
                Event::Message(Message::Mark(mark)) => format!("mark {}", mark.first_mark),
                Event::Message(other) => format!("{:?}", other.kind()),
                Event::Unknown { version, kind } => format!("unknown {version} {kind:#x}"),
                Event::Refused(refusal) => format!("refused {}", refusal.version),
                Event::Damaged(damage) => {
                    format!("{:?} {}+{}", damage.fault, damage.offset, damage.bytes)
                }
            });
        }
        assert!(input.is_empty());
    }
    if let Some(damage) = reader.finish() {
        seen.push(format!(
            "{:?} {}+{}",
            damage.fault, damage.offset, damage.bytes
        ));
    }
    seen
}

#[track_caller]
fn check(stream: &[u8], expected: &[&str]) {
    assert_eq!(events(&[stream]), expected, "in one piece");
    let single: Vec<&[u8]> = stream.chunks(1).collect();
    assert_eq!(events(&single), expected, "byte by byte");
    for cut in 0..stream.len() {
        let (early, late) = stream.split_at(cut);
        assert_eq!(events(&[early, late]), expected, "cut at {cut}");
    }
}

#[test]
fn messages_come_out_however_the_stream_is_cut() {
    let stream = [mark(1), mark(2), mark(3)].concat();
    check(&stream, &["mark 1", "mark 2", "mark 3"]);
}

#[test]
fn empty_stretches_between_delimiters_are_nothing() {
    let stream = [vec![0, 0], mark(1), vec![0], mark(2)].concat();
    check(&stream, &["mark 1", "mark 2"]);
}

#[test]
fn damaged_frame_costs_itself_and_is_reported_once() {
    let mut stream = [mark(1), mark(2), mark(3)].concat();
    let length = mark(1).len();
    stream[length + 3] ^= 0x10;
    let fault = format!("Check {}+{}", length, length - 1);
    check(&stream, &["mark 1", &fault, "mark 3"]);
}

#[test]
fn lost_delimiter_costs_the_frame_and_its_neighbour() {
    let mut stream = [mark(1), mark(2), mark(3)].concat();
    let length = mark(1).len();
    stream.remove(length - 1);
    let fault = format!("Check 0+{}", 2 * length - 2);
    check(&stream, &[&fault, "mark 3"]);
}

#[test]
fn text_of_another_program_is_one_fault_and_takes_no_later_frame() {
    let text = b"ESC[2J login: root\r\nPassword:\0";
    let stream = [text.to_vec(), mark(1)].concat();
    check(&stream, &["Check 0+29", "mark 1"]);
}

#[test]
fn overlong_stretch_is_dropped_early_and_counted_once() {
    let junk = vec![0x55; MAX_FRAME_BYTES + 1];
    let stream = [junk, vec![0], mark(1)].concat();
    let fault = format!("TooLong 0+{}", MAX_FRAME_BYTES + 1);
    assert_eq!(events(&[&stream]), [fault.as_str(), "mark 1"]);
    let pieces: Vec<&[u8]> = stream.chunks(100).collect();
    assert_eq!(events(&pieces), [fault.as_str(), "mark 1"]);
}

#[test]
fn half_a_frame_at_the_end_is_torn_at_every_cut() {
    let whole = [mark(1), mark(2)].concat();
    let length = mark(1).len();
    for cut in length + 1..whole.len() {
        let fault = format!("Torn {length}+{}", cut - length);
        check(&whole[..cut], &["mark 1", &fault]);
    }
    check(&whole[..length], &["mark 1"]);
}

#[test]
fn frames_of_other_versions_are_told_apart() {
    // Wire 1.4 samples and wire 3.0 samples, framed by a later writer.
    let frame = |body: &[u8]| {
        let mut stuffed = vec![0; 32];
        let used = cobs::encode(body, &mut stuffed);
        stuffed.truncate(used);
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&stuffed);
        stuffed.extend((0..5).map(|i| (crc >> (7 * i)).to_le_bytes()[0] | 0x80));
        stuffed.push(0);
        stuffed
    };
    let stream = [frame(&[0x14, 2, 9, 9]), frame(&[0x30, 2, 9, 9]), mark(4)].concat();
    check(&stream, &["unknown 1.4 0x2", "refused 3.0", "mark 4"]);
    let mut reader = Reader::new();
    let mut input = stream.as_slice();
    let mut refusal: Option<Refusal> = None;
    while let Some(event) = reader.next(&mut input) {
        if let Event::Refused(refused) = event {
            refusal = Some(refused);
        }
    }
    assert_eq!(refusal.unwrap().device_id, None);
    let counts = reader.counts();
    assert_eq!(
        (
            counts.messages,
            counts.unknown,
            counts.refused,
            counts.damaged
        ),
        (1, 1, 1, 0)
    );
    assert_eq!(counts.bytes, stream.len() as u64);
}

#[test]
fn damage_says_where_and_what() {
    let damage = Damage {
        fault: Fault::Torn,
        offset: 4_096,
        bytes: 41,
    };
    assert_eq!(
        format!("{damage}"),
        "41 bytes at byte 4096 are the beginning of a frame whose end never came"
    );
}

#[test]
fn small_reader_takes_what_fits_and_reports_the_rest() {
    let mut reader = Reader::<16>::with_limit();
    let stream = [vec![0x55; 17], vec![0], mark(1)].concat();
    let mut input = stream.as_slice();
    assert!(matches!(
        reader.next(&mut input),
        Some(Event::Damaged(Damage {
            fault: Fault::TooLong,
            offset: 0,
            bytes: 17
        }))
    ));
    assert!(matches!(reader.next(&mut input), Some(Event::Message(_))));
    assert_eq!(reader.next(&mut input), None);
}

/// A stream of several blocks in which any bit is flipped gives back all messages but at most two.
#[test]
fn any_flipped_bit_costs_at_most_a_frame_and_its_neighbour() {
    let mut planes = [0; MAX_PLANE_BYTES];
    let samples = Samples {
        first_sample: 0,
        base_ticks: 0,
        period_ticks: 1_000,
        block: Block::encode(&[1, 2, 3, 0, -5, 70, 1_000], &mut planes).unwrap(),
    };
    let mut buffer = [0; MAX_FRAME_BYTES];
    let frame = encode(&Message::Samples(samples), &mut buffer).unwrap();
    let stream = frame.repeat(4);
    for bit in 0..stream.len() * 8 {
        let mut flipped = stream.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let mut reader = Reader::new();
        let mut input = flipped.as_slice();
        while let Some(event) = reader.next(&mut input) {
            if let Event::Message(message) = event {
                assert_eq!(message, Message::Samples(samples), "bit {bit}");
            }
        }
        let torn = reader.finish().map_or(0, |_| 1);
        let counts = reader.counts();
        assert!(counts.messages >= 2, "bit {bit}: {counts:?}");
        assert!((1..=2).contains(&counts.damaged), "bit {bit}: {counts:?}");
        assert!(torn <= 1);
    }
}

proptest! {
    #[test]
    fn any_bytes_are_taken_and_all_of_them_counted(
        bytes in prop::collection::vec(prop::sample::select(vec![0_u8, 0, 1, 2, 0x10, 0x80, 0xff]), 0..4_000),
        cut in any::<prop::sample::Index>(),
    ) {
        let (early, late) = bytes.split_at(cut.index(bytes.len() + 1));
        let mut reader = Reader::new();
        for mut input in [early, late] {
            while reader.next(&mut input).is_some() {}
        }
        reader.finish();
        assert_eq!(reader.counts().bytes, bytes.len() as u64);
    }

    #[test]
    fn any_junk_before_a_delimiter_leaves_the_next_frame_whole(
        junk in prop::collection::vec(any::<u8>(), 0..3_000),
    ) {
        let stream = [junk, vec![0], mark(7)].concat();
        let seen = events(&[&stream]);
        assert_eq!(seen.last().map(String::as_str), Some("mark 7"));
    }
}
