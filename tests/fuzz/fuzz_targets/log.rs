//! libFuzzer into `tipcurve_tests::fuzz::wire::check_log`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::wire::check_log(data));
