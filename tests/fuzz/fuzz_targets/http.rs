//! libFuzzer into `tipcurve_tests::fuzz::http::check_request`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::http::check_request(data));
