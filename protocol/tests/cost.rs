//! What a pressure sample costs on the line, against the least that is possible.
//!
//! The bound is Shannon's: white noise of a known spread, rounded to whole codes, has an entropy that
//! no lossless code undercuts. For a normal distribution it is close to `log2(sigma sqrt(2 pi e))`
//! (Cover and Thomas, "Elements of Information Theory", example 8.1.2; from memory), and is
//! computed here from the exact probabilities of the codes.

use tipcurve_protocol::{Block, Message, Samples, delta, frame};

/// Bits an ideal code needs for each sample of white normal noise in whole codes.
fn entropy_bits(sigma: f64) -> f64 {
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
struct Random(u64);

impl Random {
    fn word(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        u32::try_from((z ^ (z >> 31)) >> 32).expect("half of the bits")
    }

    fn unit(&mut self) -> f64 {
        f64::from(self.word()) / 4_294_967_296.0
    }

    /// Normal deviate by Box and Muller.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.unit().max(1e-300).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

#[expect(clippy::cast_possible_truncation, reason = "codes are far inside i32")]
fn noise(n: usize, sigma: f64, level: f64) -> Vec<i32> {
    let mut random = Random(1);
    let codes = (0..n).map(|_| (level + sigma * random.normal()).round() as i32);
    codes.collect()
}

/// Bytes on the line for each sample, hours into a recording, framing included.
fn bytes_per_sample(codes: &[i32], block_samples: usize, period_ticks: u32) -> f64 {
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

#[test]
fn entropy_of_wide_noise_is_the_known_formula() {
    for sigma in [2.0, 4.0, 8.0_f64] {
        let formula = (sigma * (std::f64::consts::TAU * std::f64::consts::E).sqrt()).log2();
        assert!(
            (entropy_bits(sigma) - formula).abs() < 0.02,
            "sigma {sigma}"
        );
    }
}

#[test]
fn quiet_noise_at_500_hz_costs_at_most_1_6_bytes_and_1_6_times_its_entropy() {
    for sigma in [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0] {
        // A level between two codes and one on a code.
        for level in [9_000.0, -12_345.5] {
            let bytes = bytes_per_sample(&noise(50_000, sigma, level), 250, 2_000);
            let ratio = 8.0 * bytes / entropy_bits(sigma);
            assert!(bytes <= 1.6, "sigma {sigma}: {bytes} bytes");
            assert!(ratio <= 1.6, "sigma {sigma}: {ratio} times the entropy");
            assert!(ratio >= 1.0, "sigma {sigma}: {ratio} is below the bound");
        }
    }
}

#[test]
fn worst_codes_of_a_16_bit_converter_still_fit_half_the_line_at_1_khz() {
    // Every code at random over the whole range: nothing can be compressed.
    let mut random = Random(2);
    let codes: Vec<i32> = (0..25_600)
        .map(|_| i32::try_from(random.word() >> 16).expect("16 bits") - 32_768)
        .collect();
    let bytes = bytes_per_sample(&codes, 256, 1_000);
    // 115200 baud with start and stop bit is 11 520 bytes a second.
    assert!(bytes * 1_000.0 < 11_520.0 / 2.0, "{bytes} bytes");
}
