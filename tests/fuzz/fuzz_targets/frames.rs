//! libFuzzer into `tipcurve_tests::fuzz::wire::check_frame`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::wire::check_frame(data));
