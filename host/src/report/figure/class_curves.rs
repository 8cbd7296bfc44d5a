//! Curves of a class on one plot: the reference with its band, everybody else as thin lines, and those that
//! are to be seen with mark, points and name.

use super::axis::{Axis, range_of};
use super::canvas::{Anchor, Canvas, Px, Type, draw, text_width};
use super::curves::{Plot, series, steps};
use super::label::{shortened, spread};
use super::palette::{AXIS, RAW, TEXT};
use super::{FigureError, Width};
use crate::analysis::nozzle_curve::{CurvePoint, NozzleCurve};
use crate::report::number::{Kind, Show};

const LEFT: f64 = 46.0;
const LABEL: f64 = 13.0;

/// One student's line.
pub(crate) struct CurveLine<'a> {
    /// Name or code.
    pub(crate) label: String,
    /// The curve, where there is one.
    pub(crate) curve: Option<&'a NozzleCurve>,
    /// Points.
    pub(crate) points: &'a [CurvePoint],
    /// True to draw it with points and name; false for a thin line among others.
    pub(crate) is_named: bool,
}

/// Draws the figure; `None` without a point.
pub(crate) fn draw_class_curves(
    show: Show,
    reference: Option<&NozzleCurve>,
    lines: &[CurveLine],
    width: Width,
) -> Result<Option<String>, FigureError> {
    let all = || lines.iter().flat_map(|l| l.points);
    let Some((_, p_high)) =
        range_of(all().map(|p| show.to_unit(Kind::Pressure, p.pressure_pa.value)))
    else {
        return Ok(None);
    };
    let flows = all().map(|p| show.to_unit(Kind::Flow, p.flow_m3_per_s.value));
    let q_high = range_of(flows).map_or(1.0, |r| r.1);
    let most = if width.is_narrow() { 11 } else { 24 };
    let name = |l: &CurveLine| shortened(&l.label, most);
    let room = lines
        .iter()
        .filter(|l| l.is_named)
        .map(name)
        .chain(reference.map(|_| "reference".to_owned()))
        .map(|name| text_width(&name, LABEL))
        .fold(0.0, f64::max)
        + 27.0;
    let (w, h) = (width.px(), 380.0);
    let plot = Plot {
        x: Axis::new(0.0, p_high * 1.05, LEFT, w - room),
        y: Axis::new(0.0, q_high * 1.12, h - 48.0, 36.0),
        show,
    };
    draw(w, h, |canvas| {
        plot.axes(canvas);
        for line in lines.iter().filter(|l| !l.is_named) {
            if let Some(curve) = line.curve {
                thin(canvas, &plot, curve);
            }
        }
        let mut ends: Vec<(String, usize, Px)> = Vec::new();
        if let Some(curve) = reference {
            let (ink, _) = series(0);
            plot.curve(canvas, curve, ink, true);
            let high = curve.range_pa.high;
            ends.push((
                "reference".to_owned(),
                0,
                plot.at(high, curve.flow_at(high).value),
            ));
        }
        for (i, line) in lines.iter().filter(|l| l.is_named).enumerate() {
            if let Some(end) = named(canvas, &plot, line, i + 1) {
                ends.push((name(line), i + 1, end));
            }
        }
        paint_labels(canvas, &plot, &ends);
    })
    .map(Some)
}

fn thin(canvas: &mut Canvas, plot: &Plot, curve: &NozzleCurve) {
    let path: Vec<Px> = steps(curve.range_pa.low, curve.range_pa.high)
        .into_iter()
        .map(|p| plot.at(p, curve.flow_at(p).value))
        .collect();
    canvas.line(&path, RAW, 1.2);
}

/// Draws a named line; says where its label belongs.
fn named(canvas: &mut Canvas, plot: &Plot, line: &CurveLine, i: usize) -> Option<Px> {
    let (ink, mark) = series(i);
    if let Some(curve) = line.curve {
        plot.curve(canvas, curve, ink, false);
    }
    for p in line.points {
        plot.point(canvas, p, mark, ink, true);
    }
    line.points
        .iter()
        .map(|p| plot.at(p.pressure_pa.value, p.flow_m3_per_s.value))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}

fn paint_labels(canvas: &mut Canvas, plot: &Plot, ends: &[(String, usize, Px)]) {
    let wanted: Vec<f64> = ends.iter().map(|e| e.2.1).collect();
    let heights = spread(&wanted, LABEL + 5.0, plot.y.to, plot.y.from - 8.0);
    for ((text, i, end), y) in ends.iter().zip(heights) {
        let (ink, mark) = series(*i);
        let x = plot.x.to + 8.0;
        canvas.line(&[(end.0 + 7.0, end.1), (x - 3.0, y)], AXIS, 0.7);
        canvas.mark((x + 2.0, y), mark, 4.0, ink, true);
        let set = Type {
            size: LABEL,
            is_bold: true,
            ink: TEXT,
        };
        canvas.text((x + 11.0, y), text, Anchor::Start, set);
    }
}
