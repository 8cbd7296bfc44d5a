//! libFuzzer into `tipcurve_tests::fuzz::wire::check_stream`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::wire::check_stream(data));
