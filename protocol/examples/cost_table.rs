//! Prints what a pressure sample costs on the line beside two plain ways to send it, as rows of a table.
//!
//! Text is a line of time in seconds and pressure in bar with the digits that the data has; the fixed struct is
//! 32 bits of time, 16 of code and 16 of checksum. The entropy is that of the noise alone, which is the bound
//! for a receiver that knew the ripple beforehand.
#![expect(clippy::print_stdout, reason = "printing is its purpose")]

#[path = "../tests/signal/mod.rs"]
mod signal;

use signal::{bytes_per_sample, entropy_bits, noise, ripple};

/// Standard deviation of the noise, codes: 0.03 bar.
const SIGMA: f64 = 2.0;

const FIXED_STRUCT_BYTES: usize = 8;

/// Bytes of a line of text for each sample.
fn text_bytes_per_sample(codes: &[i32], rate_hz: u32) -> f64 {
    let lines = codes.iter().enumerate().map(|(index, code)| {
        let (t_s, bar) = (index as f64 / f64::from(rate_hz), f64::from(*code) / 66.0);
        format!("{t_s:.3},{bar:.2}\n").len()
    });
    lines.sum::<usize>() as f64 / codes.len() as f64
}

fn main() {
    let entropy = entropy_bits(SIGMA) / 8.0;
    for rate_hz in [100, 500, 1_000] {
        let n = 600 * rate_hz as usize;
        let signals = [
            ("quiet", noise(n, SIGMA, 9_000.0)),
            ("rippling", ripple(n, SIGMA, f64::from(rate_hz))),
        ];
        for (name, codes) in signals {
            let block = usize::min(rate_hz as usize / 2, 256);
            let wire = bytes_per_sample(&codes, block, 1_000_000 / rate_hz);
            let text = text_bytes_per_sample(&codes, rate_hz);
            println!(
                "| {rate_hz} Hz, {name} | {wire:.2} | {text:.1} | {FIXED_STRUCT_BYTES} | {entropy:.2} | {:.2} |",
                wire / entropy
            );
        }
    }
}
