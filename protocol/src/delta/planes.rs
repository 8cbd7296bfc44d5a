//! The two halves of a block's Rice codes: all low parts, then all high parts in unary.

use super::{BlockError, MAX_LOW_BITS};

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

/// Reads both planes; `zigzags` holds the zigzag residuals afterwards.
pub(super) fn read_planes(
    planes: &[u8],
    low_bits: u32,
    zigzags: &mut [i32],
) -> Result<(), BlockError> {
    let (low, high) = planes
        .split_at_checked(low_plane_bytes(zigzags.len(), low_bits))
        .ok_or(BlockError::Inconsistent)?;
    read_low(low, low_bits, zigzags)?;
    read_high(high, low_bits, zigzags)
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

/// Unpacks the low parts: eight codes are always a whole number of bytes.
fn read_low(low: &[u8], low_bits: u32, zigzags: &mut [i32]) -> Result<(), BlockError> {
    match low_bits {
        0 => zigzags.fill(0),
        1 => unpack::<1>(low, zigzags),
        2 => unpack::<2>(low, zigzags),
        3 => unpack::<3>(low, zigzags),
        4 => unpack::<4>(low, zigzags),
        5 => unpack::<5>(low, zigzags),
        6 => unpack::<6>(low, zigzags),
        7 => unpack::<7>(low, zigzags),
        8 => unpack::<8>(low, zigzags),
        _ => unpack_wide(low, low_bits, zigzags),
    }
    is_padding_zero(low, low_bits, zigzags.len())
        .then_some(())
        .ok_or(BlockError::Inconsistent)
}

/// Eight codes of `K` bits from each `K` bytes; `K` is a constant so that the shifts are.
fn unpack<const K: usize>(low: &[u8], zigzags: &mut [i32]) {
    let mask = (1_u64 << K) - 1;
    for (bytes, codes) in low.chunks(K).zip(zigzags.chunks_mut(8)) {
        let mut word = [0; 8];
        for (to, from) in word.iter_mut().zip(bytes) {
            *to = *from;
        }
        let word = u64::from_le_bytes(word);
        for (i, code) in codes.iter_mut().enumerate() {
            *code = low_word((word >> (i * K)) & mask);
        }
    }
}

fn unpack_wide(low: &[u8], low_bits: u32, zigzags: &mut [i32]) {
    let mask = u64::from(low_mask(low_bits));
    let mut bytes = low.iter();
    let (mut held, mut n_held) = (0_u64, 0_u32);
    for code in zigzags {
        while n_held < low_bits {
            held |= u64::from(bytes.next().copied().unwrap_or(0)) << n_held;
            n_held += 8;
        }
        *code = low_word(held & mask);
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

/// Adds the high parts. Ones are found by word; only the clearing of the lowest one depends
/// on what came before, which keeps the loop short.
fn read_high(high: &[u8], low_bits: u32, zigzags: &mut [i32]) -> Result<(), BlockError> {
    let mut rest = zigzags;
    let mut word_start = 0_u32;
    let mut part_start = 0_u32;
    let mut all_parts = 0_u32;
    for chunk in high.chunks(8) {
        let mut ones = little_endian_word(chunk);
        let n_ones = usize::try_from(ones.count_ones()).unwrap_or(usize::MAX);
        let (codes, later) = rest
            .split_at_mut_checked(n_ones)
            .ok_or(BlockError::Inconsistent)?;
        for code in codes {
            let one_at = word_start + ones.trailing_zeros();
            ones &= ones.wrapping_sub(1);
            let part = one_at.wrapping_sub(part_start);
            part_start = one_at + 1;
            all_parts |= part;
            *code |= (part << low_bits).cast_signed();
        }
        rest = later;
        word_start += 64;
    }
    // Nothing missing, nothing after the last one, no high part shifted out at the top.
    let used = usize::try_from(part_start)
        .unwrap_or(usize::MAX)
        .div_ceil(8);
    let fits = all_parts.leading_zeros() >= low_bits;
    (rest.is_empty() && used == high.len() && fits)
        .then_some(())
        .ok_or(BlockError::Inconsistent)
}

fn little_endian_word(chunk: &[u8]) -> u64 {
    if let Ok(whole) = <[u8; 8]>::try_from(chunk) {
        return u64::from_le_bytes(whole);
    }
    chunk
        .iter()
        .rev()
        .fold(0, |word, byte| (word << 8) | u64::from(*byte))
}
