//! What a pressure sample costs on the line, against the least that is possible.
//!
//! The bound is Shannon's: white noise of a known spread, rounded to whole codes, has an entropy that
//! no lossless code undercuts. For a normal distribution it is close to `log2(sigma sqrt(2 pi e))`
//! (Cover and Thomas, "Elements of Information Theory", example 8.1.2; from memory), and is
//! computed here from the exact probabilities of the codes.

mod signal;

use signal::{Random, bytes_per_sample, entropy_bits, noise};

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
