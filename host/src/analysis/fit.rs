//! Mathematics under the curves: no words of the trade below here.

pub mod anova;
pub mod choose;
pub mod line;
pub mod logit;
pub mod monotone;
pub mod power_law;
pub mod reml;
pub mod two_term;
pub mod york;
