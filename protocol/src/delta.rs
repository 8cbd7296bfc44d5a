//! A block of integer codes to a few bits each, and back.
//!
//! Each code is predicted from the ones before it, and what is left (the residual) is
//! written as a Rice code whose two halves lie apart: first the low `k` bits of every
//! residual, then the high parts in unary. Held apart, both halves can be read many at a
//! time, and the size stays within a few percent of what a Rice code costs.
//!
//! Three predictors compete in each block: the block's mean (best for white noise), the
//! code before (steps, random walk), and the line through the two before (ripple that
//! is fast sampled). The cheapest predictor and the cheapest `k` are searched, not guessed.
//!
//! Source: R. F. Rice, "Some practical universal noiseless coding techniques", JPL
//! Publication 79-22, 1979; the split of high and low parts after P. Elias, "Efficient
//! storage and retrieval by content and address of static files", J. ACM 21(2), 1974;
//! both from memory. Nothing here knows frames, time or what a code stands for.

mod planes;

use core::fmt;

use serde::{Deserialize, Serialize};

use planes::{read_planes, write_planes};

/// Most codes in one block.
pub const MAX_CODES: usize = 256;

/// Space that always suffices for the planes of a block: the search never settles for more than
/// 33 bits a code, and each plane may leave up to seven bits unused.
pub const MAX_PLANE_BYTES: usize = MAX_CODES * 33 / 8 + 2;

/// Most low bits of one code.
const MAX_LOW_BITS: u32 = 31;

/// A compressed block, as it stands in a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Block<'a> {
    count: u16,
    coding: u8,
    start: i32,
    #[serde(borrow)]
    planes: &'a [u8],
}

/// Why a block could not be written or read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockError {
    /// More codes than [`MAX_CODES`].
    TooMany,
    /// The buffer for the planes is shorter than the block needs; see [`MAX_PLANE_BYTES`].
    BufferTooSmall,
    /// The output has another length than the block.
    LengthDiffers,
    /// The planes do not hold exactly the announced number of codes.
    Inconsistent,
}

impl fmt::Display for BlockError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooMany => "more codes than one block holds",
            Self::BufferTooSmall => "buffer too small for the block",
            Self::LengthDiffers => "output length differs from the block's count",
            Self::Inconsistent => "block does not hold the number of codes it announces",
        })
    }
}

impl core::error::Error for BlockError {}

/// How a code is predicted from the ones before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Predictor {
    /// The block's start.
    Level,
    /// The code before.
    Previous,
    /// The straight line through the two before.
    Line,
}

impl Predictor {
    fn from_code(code: u8) -> Option<Self> {
        match code {
            0 => Some(Self::Level),
            1 => Some(Self::Previous),
            2 => Some(Self::Line),
            _ => None,
        }
    }

    fn as_code(self) -> u8 {
        match self {
            Self::Level => 0,
            Self::Previous => 1,
            Self::Line => 2,
        }
    }
}

impl<'a> Block<'a> {
    /// Compresses up to [`MAX_CODES`] codes into `planes`; [`MAX_PLANE_BYTES`] always suffice.
    ///
    /// Cost: about five passes over the codes, integers only.
    ///
    /// # Errors
    /// [`BlockError::TooMany`], [`BlockError::BufferTooSmall`].
    pub fn encode(codes: &[i32], planes: &'a mut [u8]) -> Result<Self, BlockError> {
        let count = u16::try_from(codes.len()).map_err(|_| BlockError::TooMany)?;
        if codes.len() > MAX_CODES {
            return Err(BlockError::TooMany);
        }
        let (predictor, start, sum) = choose_predictor(codes);
        let low_bits = choose_low_bits(codes, predictor, start, sum);
        let used = write_planes(residuals(codes, predictor, start), count, low_bits, planes)?;
        Ok(Self {
            count,
            coding: (predictor.as_code() << 5) | (low_bits.to_le_bytes()[0] & 0x1f),
            start,
            planes: planes.get(..used).ok_or(BlockError::BufferTooSmall)?,
        })
    }

    /// How many codes the block holds.
    #[must_use]
    pub fn len(&self) -> usize {
        usize::from(self.count)
    }

    /// Whether the block holds no code.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Restores the codes. `codes` must be as long as the block; after an error its contents
    /// mean nothing.
    ///
    /// # Errors
    /// [`BlockError::LengthDiffers`], [`BlockError::TooMany`], [`BlockError::Inconsistent`].
    pub fn decode(&self, codes: &mut [i32]) -> Result<(), BlockError> {
        if codes.len() != self.len() {
            return Err(BlockError::LengthDiffers);
        }
        if codes.len() > MAX_CODES {
            return Err(BlockError::TooMany);
        }
        let predictor = Predictor::from_code(self.coding >> 5).ok_or(BlockError::Inconsistent)?;
        read_planes(self.planes, u32::from(self.coding & 0x1f), codes)?;
        restore(codes, predictor, self.start);
        Ok(())
    }
}

/// Signed to unsigned so that small magnitudes are small: 0, -1, 1, -2, ...
fn to_zigzag(residual: i32) -> u32 {
    ((residual << 1) ^ (residual >> 31)).cast_unsigned()
}

fn from_zigzag(zigzag: u32) -> i32 {
    (zigzag >> 1).cast_signed() ^ -(zigzag & 1).cast_signed()
}

/// Zigzag residuals of the codes. Differences wrap, so that every code can follow every other.
fn residuals(codes: &[i32], predictor: Predictor, start: i32) -> impl Iterator<Item = u32> + Clone {
    let (mut last, mut before) = (start, start);
    codes.iter().map(move |&code| {
        let predicted = match predictor {
            Predictor::Level => start,
            Predictor::Previous => last,
            Predictor::Line => last.wrapping_add(last.wrapping_sub(before)),
        };
        before = last;
        last = code;
        to_zigzag(code.wrapping_sub(predicted))
    })
}

/// Codes from zigzag residuals, in place.
fn restore(codes: &mut [i32], predictor: Predictor, start: i32) {
    match predictor {
        Predictor::Level => {
            for code in codes {
                *code = from_zigzag(code.cast_unsigned()).wrapping_add(start);
            }
        }
        Predictor::Previous => {
            let mut last = start;
            for code in codes {
                last = last.wrapping_add(from_zigzag(code.cast_unsigned()));
                *code = last;
            }
        }
        Predictor::Line => {
            let (mut last, mut slope) = (start, 0_i32);
            for code in codes {
                slope = slope.wrapping_add(from_zigzag(code.cast_unsigned()));
                last = last.wrapping_add(slope);
                *code = last;
            }
        }
    }
}

/// The predictor with the smallest sum of residuals, its start, and that sum.
fn choose_predictor(codes: &[i32]) -> (Predictor, i32, u64) {
    let first = codes.first().copied().unwrap_or_default();
    let options = [
        (Predictor::Level, mean(codes)),
        (Predictor::Previous, first),
        (Predictor::Line, first),
    ];
    let mut best = (Predictor::Previous, first, u64::MAX);
    for (predictor, start) in options {
        let sum = residuals(codes, predictor, start).map(u64::from).sum();
        if sum < best.2 {
            best = (predictor, start, sum);
        }
    }
    best
}

/// Mean of the codes, rounded to the nearest; 0 for none.
fn mean(codes: &[i32]) -> i32 {
    let sum: i64 = codes.iter().copied().map(i64::from).sum();
    let count = i64::try_from(codes.len()).unwrap_or(i64::MAX).max(1);
    i32::try_from((sum + count / 2).div_euclid(count)).unwrap_or(0)
}

/// The number of low bits with the smallest plane, at most 33 bits a code in all.
///
/// Starts one above the logarithm of the mean residual, where the unary part costs at most two bits
/// a code, and goes down while that pays.
fn choose_low_bits(codes: &[i32], predictor: Predictor, start: i32, sum: u64) -> u32 {
    let count = codes.len() as u64;
    let enough = sum
        .checked_div(count)
        .and_then(u64::checked_ilog2)
        .map_or(0, |log| log + 1);
    let cost = |low_bits: u32| {
        let high = residuals(codes, predictor, start).map(|zigzag| u64::from(zigzag >> low_bits));
        count * u64::from(low_bits) + high.sum::<u64>()
    };
    let mut best = enough.min(MAX_LOW_BITS);
    let mut best_cost = cost(best);
    while let Some(fewer) = best.checked_sub(1) {
        let fewer_cost = cost(fewer);
        if fewer_cost > best_cost {
            break;
        }
        (best, best_cost) = (fewer, fewer_cost);
    }
    best
}

#[cfg(test)]
mod tests;
