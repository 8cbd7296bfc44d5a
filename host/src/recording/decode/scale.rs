//! What a pressure code means, and what it means after a new hello.

use tipcurve_protocol::Channel;

use crate::recording::PressureScale;

#[expect(
    clippy::cast_precision_loss,
    reason = "2^53 nanopascals a code are nine megapascals; beyond, parts in 10^16 are lost"
)]
pub(super) fn pressure_scale(channel: &Channel) -> PressureScale {
    PressureScale {
        zero_pa: channel.value_of(0),
        pa_per_code: channel.scale_nano as f64 * 1e-9,
        code_min: channel.min_code,
        code_max: channel.max_code,
    }
}

/// Carries codes of a later scale to the first one: `code * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rescale {
    factor: f64,
    offset: f64,
}

impl Rescale {
    pub(super) fn between(from: PressureScale, to: PressureScale) -> Self {
        Self {
            factor: from.pa_per_code / to.pa_per_code,
            offset: (from.zero_pa - to.zero_pa) / to.pa_per_code,
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "a cast from f64 stops at the ends of i32"
    )]
    pub(super) fn apply(self, codes: &mut [i32]) {
        for code in codes {
            *code = (f64::from(*code) * self.factor + self.offset).round() as i32;
        }
    }
}
