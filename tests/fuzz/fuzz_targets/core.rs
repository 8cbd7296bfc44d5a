//! libFuzzer into `tipcurve_tests::fuzz::core::check_core`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::core::check_core(data));
