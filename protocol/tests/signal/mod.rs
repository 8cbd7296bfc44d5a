//! Signals with a known entropy, and what they cost on the line. Shared by `tests/cost.rs`, which holds the cost to its
//! limits, and `examples/cost_table.rs`, which prints it.
#![allow(dead_code, reason = "each of the two uses a part")]

use tipcurve_protocol::{Block, Message, Samples, delta, frame};

/// Bits an ideal code needs for each sample of white normal noise in whole codes.
pub(crate) fn entropy_bits(sigma: f64) -> f64 {
    let density = |x: f64| (-0.5 * (x / sigma).powi(2)).exp();
    // The probability of each code, by the midpoint rule with 64 steps a code.
    let of_code = |code: i32| -> f64 {
        let steps = (0..64).map(|step| f64::from(code) - 0.5 + (f64::from(step) + 0.5) / 64.0);
        steps.map(density).sum()
    };
    let range = -100..=100;
    let total: f64 = range.clone().map(of_code).sum();
    let shares = range
        .map(|code| of_code(code) / total)
        .filter(|share| *share > 0.0);
    shares.map(|share| -share * share.log2()).sum()
}

/// splitmix64 (Steele, Lea and Flood, OOPSLA 2014; from memory).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn word(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        u32::try_from((z ^ (z >> 31)) >> 32).expect("half of the bits")
    }

    pub(crate) fn unit(&mut self) -> f64 {
        f64::from(self.word()) / 4_294_967_296.0
    }

    /// Normal deviate by Box and Muller.
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.unit().max(1e-300).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

#[expect(clippy::cast_possible_truncation, reason = "codes are far inside i32")]
pub(crate) fn noise(n: usize, sigma: f64, level: f64) -> Vec<i32> {
    let mut random = Random(1);
    let codes = (0..n).map(|_| (level + sigma * random.normal()).round() as i32);
    codes.collect()
}

/// Bytes on the line for each sample, hours into a recording, framing included.
pub(crate) fn bytes_per_sample(codes: &[i32], block_samples: usize, period_ticks: u32) -> f64 {
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let mut buffer = [0; frame::MAX_FRAME_BYTES];
    let mut first_sample = 10_000_000;
    let mut bytes = 0;
    for block in codes.chunks(block_samples) {
        let samples = Samples {
            first_sample,
            base_ticks: u64::from(first_sample) * u64::from(period_ticks),
            period_ticks,
            block: Block::encode(block, &mut planes).expect("a block fits"),
        };
        let frame = frame::encode(&Message::Samples(samples), &mut buffer);
        bytes += frame.expect("a frame fits").len();
        first_sample += u32::try_from(block.len()).expect("a block is short");
    }
    bytes as f64 / codes.len() as f64
}

/// Stroke ripple of 12 Hz, a sawtooth of 700 codes from end to end, with noise: 10 bar at 26 400 codes for 400 bar.
#[expect(clippy::cast_possible_truncation, reason = "codes are far inside i32")]
pub(crate) fn ripple(n: usize, sigma: f64, rate_hz: f64) -> Vec<i32> {
    let mut random = Random(3);
    let codes = (0..n).map(|index| {
        let stroke = (12.0 * index as f64 / rate_hz).fract();
        (9_000.0 + 700.0 * (stroke - 0.5) + sigma * random.normal()).round() as i32
    });
    codes.collect()
}
