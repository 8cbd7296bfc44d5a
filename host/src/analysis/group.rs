//! Settings carried forward through the notes, and bursts put into groups. No statistics.

use serde::{Deserialize, Serialize};

/// What was set while a burst was sprayed, carried forward from the notes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Setting {
    /// Tip code.
    pub tip: Option<String>,
    /// The user's family word.
    pub tip_family: Option<String>,
    /// Coating.
    pub material: Option<String>,
    /// Thinner, 0 to 1 by volume of coating.
    pub thinner_ratio: Option<f64>,
    /// Control position.
    pub dial: Option<String>,
    /// Strained before use.
    pub strained: Option<bool>,
}

/// Bursts with one tip, family, coating, thinner, temperature band and phase: one nozzle curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Tip code.
    pub tip: String,
    /// The user's family word.
    pub tip_family: Option<String>,
    /// Coating.
    pub material: String,
    /// Thinner, 0 to 1.
    pub thinner_ratio: f64,
    /// Mean coating temperature, K, where logged.
    pub material_k: Option<f64>,
    /// Running number of the state when one setting was found in more than one (0 first): a
    /// restriction developed, the temperature changed, the tip was changed and changed back.
    pub phase: u32,
    /// Bursts, ascending.
    pub burst_indices: Vec<usize>,
}
