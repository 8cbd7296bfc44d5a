//! Tests of the block coder.

use super::{Block, BlockError, MAX_CODES, MAX_PLANE_BYTES, Predictor, from_zigzag, to_zigzag};

extern crate std;
use proptest::prelude::{any, prop, proptest};
use std::vec;
use std::vec::Vec;

#[track_caller]
fn check_round_trip(codes: &[i32]) -> usize {
    let mut planes = [0xa5; MAX_PLANE_BYTES];
    let block = Block::encode(codes, &mut planes).unwrap();
    let mut back = vec![0x5a5a; codes.len()];
    block.decode(&mut back).unwrap();
    assert_eq!(back, codes);
    block.planes.len()
}

#[track_caller]
fn check_predictor(codes: &[i32], expected: Predictor) {
    let mut planes = [0; MAX_PLANE_BYTES];
    let block = Block::encode(codes, &mut planes).unwrap();
    assert_eq!(Predictor::from_code(block.coding >> 5), Some(expected));
}

#[test]
fn zigzag_orders_by_magnitude_and_returns() {
    for (residual, zigzag) in [
        (0, 0),
        (-1, 1),
        (1, 2),
        (-2, 3),
        (i32::MAX, u32::MAX - 1),
        (i32::MIN, u32::MAX),
    ] {
        assert_eq!(to_zigzag(residual), zigzag);
        assert_eq!(from_zigzag(zigzag), residual);
    }
}

#[test]
fn extreme_codes_fit_the_declared_space() {
    let swing: Vec<i32> = (0..MAX_CODES)
        .map(|i| if i % 2 == 0 { i32::MIN } else { i32::MAX })
        .collect();
    assert!(check_round_trip(&swing) <= MAX_PLANE_BYTES);
    let spread: Vec<i32> = (0..256_u32)
        .map(|i| i.wrapping_mul(0x9e37_79b9).cast_signed())
        .collect();
    assert!(check_round_trip(&spread) <= MAX_PLANE_BYTES);
}

#[test]
fn empty_single_and_constant_blocks_return() {
    assert_eq!(check_round_trip(&[]), 0);
    assert_eq!(check_round_trip(&[i32::MIN]), 1);
    assert_eq!(check_round_trip(&[12_345; 256]), 32);
}

#[test]
fn each_predictor_wins_where_it_should() {
    let noise: Vec<i32> = (0..200_i32)
        .map(|i| 5_000 + (i * i * 31 + i * 7) % 23)
        .collect();
    check_predictor(&noise, Predictor::Level);
    let walk: Vec<i32> = (0..200)
        .map(|i: i32| 40 * (i / 2) + 3 * ((i * 7919) % 5))
        .collect();
    check_predictor(&walk, Predictor::Previous);
    let ramp: Vec<i32> = (0..200).map(|i: i32| 137 * i + (i * 31) % 3).collect();
    check_predictor(&ramp, Predictor::Line);
}

#[test]
fn one_wild_code_costs_less_than_raw_codes() {
    let mut codes = [9_000; 250];
    codes[100] = -32_768;
    assert!(check_round_trip(&codes) < 2 * 250);
}

#[test]
fn too_many_codes_and_short_buffers_are_refused() {
    let mut planes = [0; MAX_PLANE_BYTES];
    let codes = [0; MAX_CODES + 1];
    assert_eq!(Block::encode(&codes, &mut planes), Err(BlockError::TooMany));
    let codes = [1, -900, 77];
    for len in 0..3 {
        assert_eq!(
            Block::encode(&codes, &mut planes[..len]),
            Err(BlockError::BufferTooSmall)
        );
    }
    let block = Block::encode(&codes, &mut planes).unwrap();
    assert_eq!(block.decode(&mut [0; 2]), Err(BlockError::LengthDiffers));
}

#[test]
fn planes_cut_padded_or_of_unknown_coding_are_refused() {
    let mut planes = [0; MAX_PLANE_BYTES];
    let block = Block::encode(&[3, 0, -3, 9, 1], &mut planes).unwrap();
    let mut longer = block.planes.to_vec();
    longer.push(0);
    let mut out = [0; 5];
    for wrong in [
        Block {
            planes: &block.planes[..block.planes.len() - 1],
            ..block
        },
        Block {
            planes: &longer,
            ..block
        },
        Block {
            coding: 3 << 5,
            ..block
        },
    ] {
        assert_eq!(wrong.decode(&mut out), Err(BlockError::Inconsistent));
    }
}

#[test]
fn every_number_of_low_bits_is_read_as_written() {
    for low_bits in 0..=31 {
        let step = 1_i32 << low_bits.min(30);
        let codes: Vec<i32> = (0..37_i32)
            .map(|i| (i * 7919 % 13).wrapping_mul(step / 5 + 1))
            .collect();
        check_round_trip(&codes);
    }
}

proptest! {
    #[test]
    fn any_codes_return(codes in prop::collection::vec(any::<i32>(), 0..=MAX_CODES)) {
        check_round_trip(&codes);
    }

    #[test]
    fn any_quiet_codes_return(level in any::<i16>(), codes in prop::collection::vec(-20..20, 0..=MAX_CODES)) {
        let codes: Vec<i32> = codes.into_iter().map(|code| code + i32::from(level)).collect();
        check_round_trip(&codes);
    }

    #[test]
    fn any_planes_decode_or_are_refused(
        count in 0..=300_u16,
        coding in any::<u8>(),
        start in any::<i32>(),
        planes in prop::collection::vec(any::<u8>(), 0..1100),
    ) {
        let block = Block { count, coding, start, planes: &planes };
        let mut out = vec![0; usize::from(count)];
        if block.decode(&mut out).is_ok() {
            // What was accepted has one spelling: predictor and low bits may differ, the codes not.
            check_round_trip(&out);
        }
    }
}
