//! How fast a log of eight hours is read, and what it costs on the line.
//!
//! Prints wire bytes and samples per second, and how that compares with merely copying the finished
//! column of samples, so that runs on different machines can be compared by ratio.
#![expect(clippy::print_stdout, reason = "a benchmark prints its result")]

use std::hint::black_box;
use std::time::Instant;

use tipcurve_protocol::{Block, Event, Message, Reader, Samples, delta, frame};

const BLOCK: usize = 250;
const PERIOD_TICKS: u32 = 1_000;

/// A small generator (Steele, Lea, Flood: splitmix64, OOPSLA 2014) so that runs are alike.
struct Random(u64);

impl Random {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        f64::from(u32::try_from((z ^ (z >> 31)) >> 32).unwrap_or(0)) / 4_294_967_296.0
    }

    /// Normal deviate by Box and Muller.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.unit().max(1e-300).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

#[expect(clippy::cast_possible_truncation, reason = "codes are far inside i32")]
fn codes(n: usize, sigma: f64, ripple: f64) -> Vec<i32> {
    let mut random = Random(7);
    (0..n)
        .map(|i| {
            let phase = i as f64 * 11.0 * f64::from(PERIOD_TICKS) * 1e-6;
            let stroke = ripple * (std::f64::consts::TAU * phase).sin();
            (9_000.0 + stroke + sigma * random.normal()).round() as i32
        })
        .collect()
}

fn write_log(codes: &[i32]) -> Vec<u8> {
    let mut log = Vec::new();
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let mut buffer = [0; frame::MAX_FRAME_BYTES];
    let mut first_sample = 0_u32;
    for block in codes.chunks(BLOCK) {
        let samples = Samples {
            first_sample,
            base_ticks: u64::from(first_sample) * u64::from(PERIOD_TICKS),
            period_ticks: PERIOD_TICKS,
            block: Block::encode(block, &mut planes).expect("a block fits"),
        };
        log.extend_from_slice(
            frame::encode(&Message::Samples(samples), &mut buffer).expect("a frame fits"),
        );
        first_sample += u32::try_from(block.len()).expect("a block is short");
    }
    log
}

fn read_log(log: &[u8], codes: &mut Vec<i32>) {
    codes.clear();
    let mut reader = Reader::new();
    let mut input = log;
    while let Some(event) = reader.next(&mut input) {
        if let Event::Message(Message::Samples(samples)) = event {
            let at = codes.len();
            codes.resize(at + samples.block.len(), 0);
            samples
                .block
                .decode(&mut codes[at..])
                .expect("what was written can be read");
        }
    }
}

/// Best of several runs, in seconds.
fn best_s(mut run: impl FnMut()) -> f64 {
    let times = (0..7).map(|_| {
        let start = Instant::now();
        run();
        start.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

/// Entropy of the residuals to the true level, the least that any code of independent samples costs.
fn entropy_bits(sigma: f64) -> f64 {
    let quiet = codes(1_000_000, sigma, 0.0);
    let mut counts = std::collections::BTreeMap::new();
    for code in &quiet {
        *counts.entry(*code).or_insert(0_u32) += 1;
    }
    let n = quiet.len() as f64;
    counts
        .values()
        .map(|&count| {
            let p = f64::from(count) / n;
            -p * p.log2()
        })
        .sum()
}

fn main() {
    let n = 8 * 3_600 * 1_000;
    for (sigma, ripple) in [
        (0.5, 0.0),
        (1.0, 0.0),
        (2.0, 0.0),
        (4.0, 0.0),
        (8.0, 0.0),
        (4.0, 300.0),
        (1.0, 300.0),
    ] {
        let original = codes(n, sigma, ripple);
        let log = write_log(&original);
        let mut read = Vec::with_capacity(n);
        let read_s = best_s(|| read_log(black_box(&log), &mut read));
        assert_eq!(read, original);
        let mut copy = vec![0; n];
        let copy_s = best_s(|| copy.copy_from_slice(black_box(&original)));
        let megabytes = log.len() as f64 * 1e-6;
        let bits = 8.0 * log.len() as f64 / n as f64;
        let entropy = entropy_bits(sigma);
        println!(
            "sigma {sigma:3.1} ripple {ripple:5.1}: {:5.3} B/sample, {:4.2} of the entropy of the noise; {:6.1} MB/s, {:6.1} Msample/s, {:4.2} of the speed of a copy",
            bits / 8.0,
            bits / entropy,
            megabytes / read_s,
            n as f64 * 1e-6 / read_s,
            copy_s / read_s,
        );
    }
}
