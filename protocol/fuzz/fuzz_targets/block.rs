//! Any codes: a block that can be written is read back equal; any planes of a foreign block never panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use tipcurve_protocol::{Block, delta};

fuzz_target!(|codes: Vec<i32>| {
    let mut planes = [0; delta::MAX_PLANE_BYTES];
    let Ok(block) = Block::encode(&codes, &mut planes) else {
        assert!(codes.len() > delta::MAX_CODES);
        return;
    };
    let mut back = vec![0; block.len()];
    assert_eq!(block.decode(&mut back), Ok(()));
    assert_eq!(back, codes);
});
