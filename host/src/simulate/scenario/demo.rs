//! placeholder
use super::Scenario;
/// x
#[must_use]
pub fn demo(_seed: u64) -> Vec<Scenario> {
    Vec::new()
}
