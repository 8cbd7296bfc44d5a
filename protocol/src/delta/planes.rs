//! The two halves of a block's Rice codes: all low parts, then all high parts in unary.

use super::{BlockError, MAX_CODES, MAX_LOW_BITS};

/// Writes both planes and returns how many bytes they take.
pub(super) fn write_planes(
    zigzags: impl Iterator<Item = u32> + Clone,
    count: u16,
    low_bits: u32,
    planes: &mut [u8],
) -> Result<usize, BlockError> {
    let (low, high) = planes
        .split_at_mut_checked(low_plane_bytes(usize::from(count), low_bits))
        .ok_or(BlockError::BufferTooSmall)?;
    write_low(zigzags.clone(), low_bits, low);
    Ok(low.len() + write_high(zigzags.map(|zigzag| zigzag >> low_bits), high)?)
}

/// Reads both planes; `zigzags` holds the zigzag residuals afterwards. At most [`MAX_CODES`].
pub(super) fn read_planes(
    planes: &[u8],
    low_bits: u32,
    zigzags: &mut [i32],
) -> Result<(), BlockError> {
    let (low, high) = planes
        .split_at_checked(low_plane_bytes(zigzags.len(), low_bits))
        .ok_or(BlockError::Inconsistent)?;
    let is_sound = is_padding_zero(low, low_bits, zigzags.len())
        && (read_short_runs(high, low_bits, zigzags) || read_any_runs(high, low_bits, zigzags));
    add_low(low, low_bits, zigzags);
    is_sound.then_some(()).ok_or(BlockError::Inconsistent)
}

fn low_plane_bytes(count: usize, low_bits: u32) -> usize {
    // At most 31 bits a code, so the conversion always holds.
    (count * usize::try_from(low_bits).unwrap_or(0)).div_ceil(8)
}

fn low_mask(low_bits: u32) -> u32 {
    !(u32::MAX << low_bits.min(MAX_LOW_BITS))
}

/// Packs the low parts, least significant bit first.
fn write_low(zigzags: impl Iterator<Item = u32>, low_bits: u32, low: &mut [u8]) {
    let mask = low_mask(low_bits);
    let mut bytes = low.iter_mut();
    let (mut held, mut n_held) = (0_u64, 0_u32);
    for zigzag in zigzags {
        held |= u64::from(zigzag & mask) << n_held;
        n_held += low_bits;
        while n_held >= 8 {
            if let Some(byte) = bytes.next() {
                *byte = held.to_le_bytes()[0];
            }
            held >>= 8;
            n_held -= 8;
        }
    }
    if let Some(byte) = bytes.next() {
        *byte = held.to_le_bytes()[0];
    }
}

/// Writes each high part as that many zeros and a one, least significant bit first.
fn write_high(parts: impl Iterator<Item = u32>, high: &mut [u8]) -> Result<usize, BlockError> {
    let mut position = 0_usize;
    let mut cleared = 0_usize;
    for part in parts {
        position += usize::try_from(part).map_err(|_| BlockError::BufferTooSmall)?;
        let byte_index = position / 8;
        let fresh = high
            .get_mut(cleared..=byte_index)
            .ok_or(BlockError::BufferTooSmall)?;
        fresh.fill(0);
        cleared = byte_index + 1;
        if let Some(byte) = high.get_mut(byte_index) {
            *byte |= 1 << (position % 8);
        }
        position += 1;
    }
    Ok(position.div_ceil(8))
}

/// Adds the low parts: eight codes are always a whole number of bytes.
fn add_low(low: &[u8], low_bits: u32, zigzags: &mut [i32]) {
    match low_bits {
        0 => {}
        1 => add_narrow::<1>(low, zigzags),
        2 => add_narrow::<2>(low, zigzags),
        3 => add_narrow::<3>(low, zigzags),
        4 => add_narrow::<4>(low, zigzags),
        5 => add_narrow::<5>(low, zigzags),
        6 => add_narrow::<6>(low, zigzags),
        7 => add_narrow::<7>(low, zigzags),
        8 => add_narrow::<8>(low, zigzags),
        _ => add_wide(low, low_bits, zigzags),
    }
}

/// Eight codes of `K` bits from each `K` bytes; `K` is a constant so that the shifts are.
fn add_narrow<const K: usize>(low: &[u8], zigzags: &mut [i32]) {
    let (groups, last_codes) = zigzags.as_chunks_mut::<8>();
    // The bytes of the last, partial group may themselves be K many.
    let last_bytes = low.get(groups.len() * K..).unwrap_or_default();
    for (codes, bytes) in groups.iter_mut().zip(low.as_chunks::<K>().0) {
        add_group::<K>(bytes, codes);
    }
    add_wide(last_bytes, low_width::<K>(), last_codes);
}

#[inline]
fn add_group<const K: usize>(bytes: &[u8; K], codes: &mut [i32; 8]) {
    let mut word = [0; 8];
    for (to, from) in word.iter_mut().zip(bytes) {
        *to = *from;
    }
    let word = u64::from_le_bytes(word);
    let mask = (1_u64 << K) - 1;
    for (i, code) in codes.iter_mut().enumerate() {
        *code |= low_word((word >> (i * K)) & mask);
    }
}

fn low_width<const K: usize>() -> u32 {
    K.to_le_bytes().first().copied().map_or(0, u32::from)
}

fn add_wide(low: &[u8], low_bits: u32, zigzags: &mut [i32]) {
    let mask = u64::from(low_mask(low_bits));
    let mut bytes = low.iter();
    let (mut held, mut n_held) = (0_u64, 0_u32);
    for code in zigzags {
        while n_held < low_bits {
            held |= u64::from(bytes.next().copied().unwrap_or(0)) << n_held;
            n_held += 8;
        }
        *code |= low_word(held & mask);
        held >>= low_bits;
        n_held -= low_bits;
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "masked to at most 31 bits before"
)]
fn low_word(masked: u64) -> i32 {
    masked as i32
}

/// One value has one spelling: bits that no code uses are zero.
fn is_padding_zero(low: &[u8], low_bits: u32, count: usize) -> bool {
    let used = (count * usize::try_from(low_bits).unwrap_or(0)) % 8;
    used == 0 || low.last().is_none_or(|last| last >> used == 0)
}

/// What a byte of the high plane holds.
#[derive(Clone, Copy)]
struct Runs {
    /// Zeros before each of its ones, one byte each, first one lowest.
    zeros: u64,
    /// How many ones.
    ones: u8,
    /// Zeros after the last one.
    after: u8,
}

/// For every byte what it holds: with it, one load and one store read several codes.
static RUNS: [Runs; 256] = {
    let mut table = [Runs {
        zeros: 0,
        ones: 0,
        after: 0,
    }; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut bit = 0;
        while bit < 8 {
            let runs = &mut table[byte];
            if byte >> bit & 1 == 1 {
                runs.zeros |= (runs.after as u64) << (8 * runs.ones);
                runs.ones += 1;
                runs.after = 0;
            } else {
                runs.after += 1;
            }
            bit += 1;
        }
        byte += 1;
    }
    table
};

/// Longest run of zeros that can precede a byte here; one more byte still fits eight bits.
const MAX_CARRY: u64 = 240;

/// Largest number of low bits at which no short run is shifted out at the top.
const MAX_SHORT_LOW_BITS: u32 = 24;

/// Sets the codes to their high parts. False where the plane does not hold exactly that many codes, or
/// holds a run too long for this way of reading.
fn read_short_runs(high: &[u8], low_bits: u32, zigzags: &mut [i32]) -> bool {
    let mut runs = [0_u8; MAX_CODES + 8];
    let Some(count) = split_runs(high, &mut runs) else {
        return false;
    };
    if count != zigzags.len() || low_bits > MAX_SHORT_LOW_BITS || high.last() == Some(&0) {
        return false;
    }
    for (code, run) in zigzags.iter_mut().zip(&runs) {
        *code = i32::from(*run) << low_bits;
    }
    true
}

/// The length of each run, eight at a time; how many there are.
fn split_runs(high: &[u8], runs: &mut [u8; MAX_CODES + 8]) -> Option<usize> {
    let mut count = 0_usize;
    let mut carry = 0_u64;
    for &byte in high {
        let entry = RUNS.get(usize::from(byte))?;
        // What the store puts beyond the ones of this byte, the next store overwrites.
        let place = runs.get_mut(count..)?.first_chunk_mut::<8>()?;
        *place = (entry.zeros + carry).to_le_bytes();
        count += usize::from(entry.ones);
        carry = u64::from(entry.after) + if byte == 0 { carry } else { 0 };
        if carry > MAX_CARRY {
            return None;
        }
    }
    Some(count)
}

/// As [`read_short_runs`], for runs of any length: ones are found by word.
fn read_any_runs(high: &[u8], low_bits: u32, zigzags: &mut [i32]) -> bool {
    let mut codes = zigzags.iter_mut();
    let mut word_start = 0_u32;
    let mut part_start = 0_u32;
    let mut all_parts = 0_u32;
    for chunk in high.chunks(8) {
        let mut ones = little_endian_word(chunk);
        while ones != 0 {
            let one_at = word_start + ones.trailing_zeros();
            ones &= ones.wrapping_sub(1);
            let part = one_at - part_start;
            part_start = one_at + 1;
            all_parts |= part;
            let Some(code) = codes.next() else {
                return false;
            };
            *code = (part << low_bits).cast_signed();
        }
        word_start += 64;
    }
    // Nothing missing, nothing after the last one, no high part shifted out at the top.
    codes.next().is_none() && high.last() != Some(&0) && all_parts.leading_zeros() >= low_bits
}

fn little_endian_word(chunk: &[u8]) -> u64 {
    let bytes = chunk.iter().rev();
    bytes.fold(0, |word, byte| (word << 8) | u64::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use proptest::prelude::{any, prop, proptest};
    use std::vec;

    proptest! {
        #[test]
        fn both_ways_of_reading_runs_agree(
            high in prop::collection::vec(any::<u8>(), 0..40),
            low_bits in 0..=20_u32,
        ) {
            let count = high.iter().map(|byte| byte.count_ones()).sum::<u32>();
            let mut short = vec![0; usize::try_from(count).unwrap()];
            let mut long = short.clone();
            let is_short = read_short_runs(&high, low_bits, &mut short);
            assert_eq!(is_short, read_any_runs(&high, low_bits, &mut long));
            assert!(!is_short || short == long);
        }
    }
}
