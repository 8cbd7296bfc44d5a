//! A quantity over a season: one mark a recording with its bar of 95 %, the line through them with its band.

use super::axis::{Axis, draw_x, draw_y, range_of, title_y};
use super::canvas::{Canvas, Mark, Px, draw};
use super::palette::{Ink, NOZZLE, QUIET, SUPPLY};
use super::{FigureError, Width};

const HEIGHT: f64 = 300.0;
const LEFT: f64 = 52.0;
/// Recordings from which on the marks are small.
const MANY: usize = 60;

/// What is drawn, in the units shown.
#[derive(Debug, Clone)]
pub(crate) struct Trend {
    /// Title of the horizontal axis with its unit.
    pub(crate) x_title: &'static str,
    /// Title of the vertical axis with its unit.
    pub(crate) y_title: String,
    /// Place, value, low and high of 95 %, and whether it is part of the line.
    pub(crate) points: Vec<(f64, f64, f64, f64, bool)>,
    /// Place, value, low and high of 95 % of the line; empty without one.
    pub(crate) line: Vec<(f64, f64, f64, f64)>,
    /// True for what the pump holds, false for what a tip passes.
    pub(crate) is_supply: bool,
}

/// Draws the figure; `None` without a point.
pub(crate) fn draw_trend(trend: &Trend, width: Width) -> Result<Option<String>, FigureError> {
    let xs = range_of(trend.points.iter().map(|p| p.0));
    let has_used = trend.points.iter().any(|p| p.4);
    // A recording that is left out may be known to nothing: its bar would press the line flat.
    let ends = trend
        .points
        .iter()
        .flat_map(|p| {
            if p.4 || !has_used {
                [p.2, p.3]
            } else {
                [p.1, p.1]
            }
        })
        .chain(trend.line.iter().flat_map(|p| [p.2, p.3]));
    let (Some((x_low, x_high)), Some((y_low, y_high))) = (xs, range_of(ends)) else {
        return Ok(None);
    };
    let room = |low: f64, high: f64| 0.06 * (high - low).max(0.02 * high.abs()).max(1e-9);
    let (rx, ry) = (room(x_low, x_high), room(y_low, y_high));
    let w = width.px();
    let x = Axis::new((x_low - rx).min(x_low), x_high + rx, LEFT, w - 14.0);
    let y = Axis::new(y_low - ry, y_high + ry, HEIGHT - 48.0, 40.0);
    let ink = if trend.is_supply { SUPPLY } else { NOZZLE };
    // Hundreds of marks would hide the line through them.
    let size = if trend.points.len() > MANY { 2.0 } else { 4.0 };
    draw(w, HEIGHT, |canvas| {
        draw_y(canvas, &y, x.from, x.to);
        title_y(canvas, (0.0, y.to - 18.0), &trend.y_title);
        draw_x(canvas, &x, y.from, y.to, trend.x_title);
        paint_line(canvas, trend, (&x, &y), ink);
        for (at, value, low, high, is_used) in &trend.points {
            let (ink, mark) = if *is_used {
                (ink, Mark::Disc)
            } else {
                (QUIET, Mark::Square)
            };
            let px = x.px(*at);
            if *is_used || !has_used {
                canvas.line(&[(px, y.px(*low)), (px, y.px(*high))], ink, 1.2);
            }
            canvas.mark((px, y.px(*value)), mark, size, ink, *is_used);
        }
    })
    .map(Some)
}

fn paint_line(canvas: &mut Canvas, trend: &Trend, (x, y): (&Axis, &Axis), ink: Ink) {
    let at = |p: &(f64, f64, f64, f64), value: f64| -> Px { (x.px(p.0), y.px(value)) };
    let upper = trend.line.iter().map(|p| at(p, p.3));
    let lower = trend.line.iter().rev().map(|p| at(p, p.2));
    let band: Vec<Px> = upper.chain(lower).collect();
    canvas.area(&band, ink, 0.14);
    let middle: Vec<Px> = trend.line.iter().map(|p| at(p, p.1)).collect();
    canvas.line(&middle, ink, 2.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(left_out_half: f64) -> String {
        let used = |x: f64| (x, 200.0, 198.0, 202.0, true);
        let trend = Trend {
            x_title: "Months",
            y_title: "bar".to_owned(),
            points: vec![
                used(0.0),
                used(1.0),
                (
                    2.0,
                    201.0,
                    201.0 - left_out_half,
                    201.0 + left_out_half,
                    false,
                ),
            ],
            line: vec![(0.0, 200.0, 199.0, 201.0), (1.0, 200.0, 199.0, 201.0)],
            is_supply: true,
        };
        draw_trend(&trend, Width::Wide).unwrap().unwrap()
    }

    #[test]
    fn a_recording_that_is_left_out_does_not_press_the_line_flat() {
        assert_eq!(drawn(1.0), drawn(150.0));
    }
}
