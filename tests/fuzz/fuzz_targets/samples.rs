//! libFuzzer into `tipcurve_tests::fuzz::text::check_samples`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::text::check_samples(data));
