//! What each verdict advises, and what it advises against: one table.
//!
//! From the table of the product design: the third column is what helps, the fourth what makes it worse.
//! Never above the lowest rated pressure, never beyond the label: the rules take advice out
//! that the settings do not allow.

use super::{Advice, VerdictKind};

/// Advice for a verdict, most useful first, and the advice not to follow.
#[must_use]
pub fn advice_for(kind: VerdictKind) -> (&'static [Advice], &'static [Advice]) {
    use Advice as A;
    match kind {
        VerdictKind::HealthyWindow => (
            &[A::Keep, A::LowerPressure],
            &[A::RaisePressure, A::ReplaceTip, A::LargerPump],
        ),
        VerdictKind::AtomisationLimit => (
            &[
                A::ThinMaterial,
                A::WarmMaterial,
                A::LargerOrificeSameFan,
                A::NarrowerFan,
            ],
            &[A::SmallerOrificeSameFan, A::WiderFan, A::RaisePressure],
        ),
        VerdictKind::SupplyLimit => (
            &[
                A::SmallerTip,
                A::ThinMaterial,
                A::WarmMaterial,
                A::LargerPump,
            ],
            &[A::LargerTip, A::LargerOrificeSameFan, A::RaisePressure],
        ),
        VerdictKind::RestrictionTip => (
            &[A::CleanTip, A::StrainMaterial],
            &[A::RaisePressure, A::LargerPump, A::SmallerTip],
        ),
        VerdictKind::RestrictionInlet => (
            &[A::CleanInletStrainer, A::StrainMaterial],
            &[
                A::LargerTip,
                A::LargerOrificeSameFan,
                A::ReplaceTip,
                A::RaisePressure,
            ],
        ),
        VerdictKind::WeakBattery => (
            &[A::ChargeBattery],
            &[
                A::LargerTip,
                A::LargerOrificeSameFan,
                A::CleanTip,
                A::ReplaceTip,
            ],
        ),
        VerdictKind::WornTip => (
            &[A::ReplaceTip],
            &[A::RaisePressure, A::LargerTip, A::LargerPump, A::CleanTip],
        ),
        VerdictKind::ApplicationLimit => (
            &[A::FasterPass, A::SmallerTip, A::WiderFan],
            &[
                A::RaisePressure,
                A::SecondPass,
                A::LargerTip,
                A::ThinMaterial,
            ],
        ),
        VerdictKind::ColdMaterial => (
            &[A::WarmMaterial, A::ThinMaterial],
            &[A::CleanTip, A::ReplaceTip, A::SmallerOrificeSameFan],
        ),
        VerdictKind::InsufficientData | VerdictKind::Undetermined => (&[A::CollectMoreData], &[]),
    }
}
