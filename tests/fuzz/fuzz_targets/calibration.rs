//! libFuzzer into `tipcurve_tests::fuzz::calibration::check_calibration`.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| tipcurve_tests::fuzz::calibration::check_calibration(data));
