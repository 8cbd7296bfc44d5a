//! Mathematics under the curves: no words of the trade below here.

pub mod anova;
pub mod choose;
pub mod lack_of_fit;
pub mod line;
pub mod logit;
pub mod moderate;
pub mod moments;
pub mod monotone;
pub mod outliers;
pub mod power_law;
pub mod reml;
pub mod scatter;
pub mod two_term;
pub mod york;
