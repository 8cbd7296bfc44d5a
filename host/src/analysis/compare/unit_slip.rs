//! Was one of two recordings read in another unit?
//!
//! A pressure in psi taken for bar makes everything 14.5 times too large, and no rig changes by that much. A
//! ratio near such a factor is a slip of the unit and no change of the rig; the comparison is refused.

use serde::{Deserialize, Serialize};

/// What was mixed up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mixed {
    /// psi and bar.
    PsiAndBar,
    /// bar and MPa.
    BarAndMpa,
    /// kPa and bar.
    KpaAndBar,
    /// US gallons and litres.
    GallonsAndLitres,
}

/// Relative distance from the factor within which a ratio counts as it: rigs of one yard differ by less
/// than this between two days, and the nearest two factors (10 and 14.5) by more.
const NEAR_RATIO: f64 = 0.18;

/// The unit that two pressures of one rig and control position may have been mixed in; `None` for any
/// other ratio (after over before, either way up).
#[must_use]
pub fn mixed_pressure(ratio: f64) -> Option<Mixed> {
    nearest(
        ratio,
        &[
            (
                crate::units::PA_PER_BAR / crate::units::PA_PER_PSI,
                Mixed::PsiAndBar,
            ),
            (10.0, Mixed::BarAndMpa),
            (100.0, Mixed::KpaAndBar),
        ],
    )
}

/// The same for two flows at one pressure.
#[must_use]
pub fn mixed_flow(ratio: f64) -> Option<Mixed> {
    let factor = crate::units::M3_PER_US_GAL / crate::units::M3_PER_L;
    nearest(ratio, &[(factor, Mixed::GallonsAndLitres)])
}

fn nearest(ratio: f64, factors: &[(f64, Mixed)]) -> Option<Mixed> {
    let size = ratio.max(1.0 / ratio);
    let off = |factor: f64| (size / factor).ln().abs();
    factors
        .iter()
        .filter(|(factor, _)| size.is_finite() && off(*factor) < NEAR_RATIO)
        .min_by(|a, b| off(a.0).total_cmp(&off(b.0)))
        .map(|(_, mixed)| *mixed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_unit_is_known_by_its_factor_either_way_up() {
        for (ratio, mixed) in [
            (14.5, Some(Mixed::PsiAndBar)),
            (1.0 / 13.8, Some(Mixed::PsiAndBar)),
            (10.2, Some(Mixed::BarAndMpa)),
            (0.1, Some(Mixed::BarAndMpa)),
            (97.0, Some(Mixed::KpaAndBar)),
            (1.4, None),
            (4.0, None),
            (f64::NAN, None),
            (0.0, None),
        ] {
            assert_eq!(mixed_pressure(ratio), mixed, "{ratio}");
        }
        assert_eq!(mixed_flow(3.7), Some(Mixed::GallonsAndLitres));
        assert_eq!(mixed_flow(0.27), Some(Mixed::GallonsAndLitres));
        assert_eq!(mixed_flow(1.3), None);
    }
}
