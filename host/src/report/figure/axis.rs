//! Linear axes: round tick values, and the map from values to pixels.

use super::canvas::{Anchor, Canvas, Px, Type};
use super::palette::{AXIS, GRID, QUIET, TEXT};
use crate::report::number::format_fixed;

/// Size of axis numbers.
pub(super) const SMALL: f64 = 12.0;

/// Values `low..=high` on pixels `from..to`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Axis {
    /// An axis over a range, never empty: a single value gets room around it.
    pub(super) fn new(low: f64, high: f64, from: f64, to: f64) -> Self {
        let (low, high) = if low.is_finite() && high.is_finite() && high > low {
            (low, high)
        } else if low.is_finite() {
            (
                low - 0.5 * low.abs().max(1.0),
                low + 0.5 * low.abs().max(1.0),
            )
        } else {
            (0.0, 1.0)
        };
        Self {
            low,
            high,
            from,
            to,
        }
    }

    /// Pixel of a value.
    pub(super) fn px(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Pixel of a value kept inside the axis.
    pub(super) fn px_inside(&self, value: f64) -> f64 {
        self.px(value.clamp(self.low, self.high))
    }

    /// True when the value lies on the axis.
    pub(super) fn holds(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }

    /// Round tick values inside the range and their decimals; about one every `every_px`.
    pub(super) fn ticks(&self, every_px: f64) -> (Vec<f64>, i32) {
        let mut wanted = ((self.to - self.from).abs() / every_px).clamp(2.0, 12.0);
        // One tick alone tells no scale: the low panels of a flat figure get a second.
        loop {
            let (ticks, decimals) = self.ticks_near(wanted);
            if ticks.len() >= 2 || wanted > 12.0 {
                return (ticks, decimals);
            }
            wanted *= 1.5;
        }
    }

    /// Round tick values, about `wanted` of them.
    fn ticks_near(&self, wanted: f64) -> (Vec<f64>, i32) {
        let raw = (self.high - self.low) / wanted;
        let power = raw.log10().floor();
        let unit = 10f64.powf(power);
        let step = [1.0, 2.0, 5.0, 10.0]
            .iter()
            .map(|m| m * unit)
            .find(|s| *s >= raw * 0.75)
            .unwrap_or(10.0 * unit);
        #[allow(clippy::cast_possible_truncation)]
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as i32;
        let first = (self.low / step - 1e-9).ceil();
        let last = (self.high / step + 1e-9).floor();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let n = (last - first).clamp(0.0, 40.0) as usize;
        #[allow(clippy::cast_precision_loss)]
        let ticks = (0..=n).map(|i| (first + i as f64) * step).collect();
        (ticks, decimals)
    }
}

/// Draws the horizontal axis at pixel `y` with its title at the right end below the numbers.
pub(super) fn draw_x(canvas: &mut Canvas, x: &Axis, y: f64, grid_top: f64, title: &str) {
    let (ticks, decimals) = x.ticks(70.0);
    for tick in ticks {
        let px = x.px(tick);
        canvas.line(&[(px, grid_top), (px, y)], GRID, 1.0);
        canvas.line(&[(px, y), (px, y + 4.0)], AXIS, 1.0);
        number(canvas, (px, y + 14.0), tick, decimals, Anchor::Middle);
    }
    canvas.line(&[(x.from, y), (x.to, y)], AXIS, 1.0);
    title_text(canvas, (x.to, y + 32.0), title, Anchor::End);
}

/// Draws the vertical axis at pixel `x`; its title stands level above the axis, see [`title_y`].
pub(super) fn draw_y(canvas: &mut Canvas, y: &Axis, x: f64, grid_right: f64) {
    let (ticks, decimals) = y.ticks(46.0);
    for tick in ticks {
        let py = y.px(tick);
        canvas.line(&[(x, py), (grid_right, py)], GRID, 1.0);
        number(canvas, (x - 7.0, py), tick, decimals, Anchor::End);
    }
}

/// The title of a vertical axis, beginning at a point.
pub(super) fn title_y(canvas: &mut Canvas, at: Px, title: &str) {
    title_text(canvas, at, title, Anchor::Start);
}

fn number(canvas: &mut Canvas, at: Px, value: f64, decimals: i32, anchor: Anchor) {
    let set = Type {
        size: SMALL,
        is_bold: false,
        ink: QUIET,
    };
    canvas.text(at, &format_fixed(value, decimals), anchor, set);
}

fn title_text(canvas: &mut Canvas, at: Px, title: &str, anchor: Anchor) {
    let set = Type {
        size: SMALL + 0.5,
        is_bold: false,
        ink: TEXT,
    };
    canvas.text(at, title, anchor, set);
}

/// Low and high of finite values with some room, or `None` without any.
pub(super) fn range_of(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in values.filter(|v| v.is_finite()) {
        low = low.min(v);
        high = high.max(v);
    }
    (low <= high).then_some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let (ticks, decimals) = Axis::new(3.0, 147.0, 0.0, 400.0).ticks(70.0);
        assert_eq!(ticks, [20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 140.0]);
        assert_eq!(decimals, 0);
        let (ticks, decimals) = Axis::new(0.0, 1.1, 300.0, 0.0).ticks(46.0);
        assert_eq!(decimals, 1);
        assert_eq!(ticks.len(), 6);
    }

    #[test]
    fn an_axis_without_values_still_maps() {
        for (low, high) in [(5.0, 5.0), (f64::NAN, 1.0), (0.0, 0.0), (2.0, 1.0)] {
            let axis = Axis::new(low, high, 0.0, 100.0);
            assert!(axis.px(1.0).is_finite(), "{low} {high}");
            assert!(axis.ticks(50.0).0.iter().all(|t| t.is_finite()));
        }
    }
}
