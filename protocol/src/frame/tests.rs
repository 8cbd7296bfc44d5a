//! Tests of framing: sizes, limits, versions, and that damage is refused.

use super::{CHECK_BYTES, CRC, Fault, Frame, MAX_BODY_BYTES, MAX_FRAME_BYTES, check_bytes};
use super::{decode, encode};
use crate::delta::{Block, MAX_CODES, MAX_PLANE_BYTES};
use crate::message::{Channel, Quantity, ResetReason};
use crate::message::{Edges, Health, Hello, MAX_CHANNELS, MAX_EDGES, Message, Name, Samples};
use crate::version::{Refusal, Version, WIRE_VERSION};

extern crate std;
use proptest::prelude::{any, prop, proptest};
use std::vec;
use std::vec::Vec;

fn framed(message: &Message<'_>) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME_BYTES];
    encode(message, &mut buffer).unwrap().to_vec()
}

/// Frames bytes as they are, for what no writer of this version would send.
fn framed_raw(body: &[u8]) -> Vec<u8> {
    let mut stuffed = vec![0; cobs::max_encoding_length(body.len())];
    let used = cobs::encode(body, &mut stuffed);
    stuffed.truncate(used);
    let check = check_bytes(CRC.checksum(&stuffed));
    stuffed.extend_from_slice(&check);
    stuffed
}

fn some_samples(planes: &mut [u8; MAX_PLANE_BYTES]) -> Samples<'_> {
    Samples {
        first_sample: 70_000,
        base_ticks: 140_000_123,
        period_ticks: 2_000,
        block: Block::encode(&[9_000, 9_003, 8_998, 9_001, 9_000, 0, 9_002], planes).unwrap(),
    }
}

#[track_caller]
fn check_refused(bytes: &[u8]) {
    let mut scratch = [0; MAX_FRAME_BYTES];
    let read = decode(bytes, &mut scratch);
    assert!(read.is_err(), "{bytes:02x?} was read as {read:?}");
}

#[test]
fn check_is_the_standard_crc_32() {
    // Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms (G. Cook);
    // the same polynomial and check as in IEEE 802.3 and RFC 1952. From memory.
    assert_eq!(CRC.checksum(b"123456789"), 0xcbf4_3926);
    assert_eq!(check_bytes(0xcbf4_3926), [0xa6, 0xf2, 0xd0, 0xdf, 0x8c]);
}

#[test]
fn longest_messages_fit_the_declared_size() {
    let mut planes = [0; MAX_PLANE_BYTES];
    let swing: Vec<i32> = (0..MAX_CODES)
        .map(|i| if i % 2 == 0 { i32::MIN } else { i32::MAX })
        .collect();
    let samples = Samples {
        first_sample: u32::MAX,
        base_ticks: u64::MAX,
        period_ticks: u32::MAX,
        block: Block::encode(&swing, &mut planes).unwrap(),
    };
    assert!(framed(&Message::Samples(samples)).len() <= MAX_FRAME_BYTES);
    let edges = Edges {
        first_edge: u32::MAX,
        base_ticks: u64::MAX,
        over_captures: u32::MAX,
        rejected: u32::MAX,
        intervals: Block::encode(&swing[..MAX_EDGES - 1], &mut planes).unwrap(),
    };
    assert!(framed(&Message::Edges(edges)).len() <= MAX_FRAME_BYTES);
    let channel = Channel {
        quantity: Quantity::Other(255),
        scale_nano: i64::MIN,
        offset_nano: i64::MIN,
        min_code: i32::MIN,
        max_code: i32::MIN,
        interval_ticks: u32::MAX,
    };
    let name: Name = "x".repeat(24).parse().unwrap();
    let hello = Hello {
        version: WIRE_VERSION,
        device_id: u64::MAX,
        boot_id: u32::MAX,
        firmware: name.clone(),
        board: name,
        sample_rate_hz: u16::MAX,
        min_sample_rate_hz: u16::MAX,
        max_sample_rate_hz: u16::MAX,
        debounce_ticks: u32::MAX,
        channels: core::iter::repeat_n(channel, MAX_CHANNELS).collect(),
    };
    assert!(framed(&Message::Hello(hello)).len() <= MAX_FRAME_BYTES);
}

#[test]
fn every_shorter_buffer_is_refused() {
    let mut planes = [0; MAX_PLANE_BYTES];
    let message = Message::Samples(some_samples(&mut planes));
    let whole = framed(&message);
    for length in 0..whole.len() {
        assert!(encode(&message, &mut vec![0; length]).is_err());
    }
    assert!(encode(&message, &mut vec![0; whole.len()]).is_ok());
}

#[test]
fn every_single_bit_flip_is_refused() {
    let mut planes = [0; MAX_PLANE_BYTES];
    for message in [
        Message::Samples(some_samples(&mut planes)),
        Message::Health(Health::default()),
    ] {
        let whole = framed(&message);
        let frame = &whole[..whole.len() - 1];
        for bit in 0..frame.len() * 8 {
            let mut flipped = frame.to_vec();
            flipped[bit / 8] ^= 1 << (bit % 8);
            check_flipped(&flipped);
        }
    }
}

/// A flip may make a delimiter: then each piece must be refused.
#[track_caller]
fn check_flipped(bytes: &[u8]) {
    for piece in bytes
        .split(|byte| *byte == 0)
        .filter(|piece| !piece.is_empty())
    {
        check_refused(piece);
    }
}

/// Flips the bits of `pattern` from bit `start` on, in the order in which a line sends them.
fn burst(frame: &[u8], start: usize, pattern: u32) -> Option<Vec<u8>> {
    let mut damaged = frame.to_vec();
    for i in (0..32).filter(|i| pattern >> i & 1 == 1) {
        let bit = start + i;
        *damaged.get_mut(bit / 8)? ^= 1 << (bit % 8);
    }
    Some(damaged)
}

#[test]
fn every_short_burst_at_every_place_is_refused() {
    let whole = framed(&Message::Health(Health::default()));
    let frame = &whole[..whole.len() - 1];
    for start in 0..frame.len() * 8 {
        // All bursts of up to twelve bits begin with a flipped bit.
        for pattern in (1..4096).step_by(2) {
            if let Some(damaged) = burst(frame, start, pattern) {
                check_flipped(&damaged);
            }
        }
    }
}

#[test]
fn frame_of_another_major_is_refused_with_its_device() {
    let body = [0x20, 0x01, 2, 0, 0xfa, 0xf6, 0x01, 1, 2, 3];
    let mut scratch = [0; 64];
    let refusal = Refusal {
        version: Version { major: 2, minor: 0 },
        device_id: Some(0x7b7a),
    };
    assert_eq!(
        decode(&framed_raw(&body), &mut scratch),
        Ok(Frame::Refused(refusal))
    );
    let samples = [0x20, 0x02, 2, 0, 0xfa, 0xf6, 0x01];
    let refusal = Refusal {
        device_id: None,
        ..refusal
    };
    assert_eq!(
        decode(&framed_raw(&samples), &mut scratch),
        Ok(Frame::Refused(refusal))
    );
}

#[test]
fn newer_minor_and_unknown_kinds_are_passed_over() {
    let mut scratch = [0; 64];
    for (version, kind) in [(0x11, 0x02), (0x10, 0x7f), (0x1f, 0x00)] {
        let unknown = Frame::Unknown {
            version: Version::from_byte(version),
            kind,
        };
        assert_eq!(
            decode(&framed_raw(&[version, kind, 1, 2, 3]), &mut scratch),
            Ok(unknown)
        );
    }
}

#[test]
fn newer_hello_is_read_as_far_as_it_is_known() {
    let hello = Hello {
        version: Version { major: 1, minor: 3 },
        device_id: 5,
        boot_id: 6,
        firmware: Name::new(),
        board: Name::new(),
        sample_rate_hz: 100,
        min_sample_rate_hz: 10,
        max_sample_rate_hz: 1_000,
        debounce_ticks: 500,
        channels: heapless::Vec::new(),
    };
    let mut body = vec![0x13, 0x01];
    let mut payload = [0; 64];
    body.extend_from_slice(postcard::to_slice(&hello, &mut payload).unwrap());
    body.extend_from_slice(b"a field of 1.3");
    let mut scratch = [0; 128];
    assert_eq!(
        decode(&framed_raw(&body), &mut scratch),
        Ok(Frame::Message(Message::Hello(hello)))
    );
    // The same bytes under our own version are one field too many.
    body[0] = 0x10;
    assert_eq!(
        decode(&framed_raw(&body), &mut scratch),
        Err(Fault::Malformed)
    );
}

#[test]
fn reset_reasons_of_later_versions_are_kept() {
    let health = Health {
        reset_reason: ResetReason::Other(200),
        ..Health::default()
    };
    let whole = framed(&Message::Health(health));
    let mut scratch = [0; 128];
    assert_eq!(
        decode(&whole[..whole.len() - 1], &mut scratch),
        Ok(Frame::Message(Message::Health(health)))
    );
}

#[test]
fn sound_check_over_nonsense_is_malformed() {
    let mut scratch = [0; 64];
    for body in [&[0x10, 0x02][..], &[0x10, 0x04, 0, 9], &[0x10, 0x05, 1]] {
        assert_eq!(
            decode(&framed_raw(body), &mut scratch),
            Err(Fault::Malformed)
        );
    }
    assert_eq!(
        decode(&framed_raw(&[0x10]), &mut scratch),
        Err(Fault::TooShort)
    );
    assert_eq!(decode(&[0x80; 4], &mut scratch), Err(Fault::TooShort));
}

#[test]
fn declared_sizes_are_what_wire_md_says() {
    assert_eq!(MAX_PLANE_BYTES, 1_058);
    assert_eq!(MAX_BODY_BYTES, 1_092);
    assert_eq!(MAX_FRAME_BYTES, MAX_BODY_BYTES + 5 + CHECK_BYTES + 1);
}

proptest! {
    #[test]
    fn any_burst_of_up_to_32_bits_is_refused(start in 0..400_usize, pattern in any::<u32>()) {
        let mut planes = [0; MAX_PLANE_BYTES];
        let whole = framed(&Message::Samples(some_samples(&mut planes)));
        let frame = &whole[..whole.len() - 1];
        let start = start % (frame.len() * 8);
        if let Some(damaged) = burst(frame, start, pattern | 1) {
            check_flipped(&damaged);
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut scratch = [0; 300];
        let _ = decode(&bytes, &mut scratch);
        // And with a check that fits, so that what lies behind it is reached too.
        let _ = decode(&framed_raw(&bytes), &mut scratch);
    }

    #[test]
    fn any_known_kind_with_any_payload_is_read_or_refused(
        kind in prop::sample::select(vec![1_u8, 2, 3, 4, 5, 6, 7, 8, 0x41]),
        payload in prop::collection::vec(any::<u8>(), 0..200),
    ) {
        let mut body = vec![0x10, kind];
        body.extend_from_slice(&payload);
        let mut scratch = [0; 300];
        if let Ok(Frame::Message(Message::Samples(samples))) = decode(&framed_raw(&body), &mut scratch) {
            let mut codes = vec![0; samples.block.len()];
            let _ = samples.block.decode(&mut codes);
        }
    }
}
