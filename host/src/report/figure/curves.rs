//! Nozzle curves of all groups: points with error bars, curve, and the band in which a further burst is expected.

use super::axis::{Axis, draw_x, draw_y, range_of, title_y};
use super::canvas::{Anchor, Canvas, MARKS, Mark, Px, Type, draw, text_width};
use super::label::{group_names, shortened, spread};
use super::palette::{AXIS, Ink, SERIES, TEXT};
use super::{FigureError, Source, Width};
use crate::analysis::nozzle_curve::{CurvePoint, NozzleCurve};
use crate::estimate::Estimate;
use crate::report::number::{Kind, Show};

const LEFT: f64 = 46.0;
const LABEL: f64 = 13.0;

/// Axes of a pressure-flow figure.
pub(super) struct Plot {
    pub(super) x: Axis,
    pub(super) y: Axis,
    pub(super) show: Show,
}

impl Plot {
    /// Pixel of a pressure and a flow in SI.
    pub(super) fn at(&self, pressure_pa: f64, flow_m3_per_s: f64) -> Px {
        (
            self.x.px(self.show.to_unit(Kind::Pressure, pressure_pa)),
            self.y.px(self.show.to_unit(Kind::Flow, flow_m3_per_s)),
        )
    }

    /// Draws both axes with their titles.
    pub(super) fn axes(&self, canvas: &mut Canvas) {
        let flow = format!("Flow, {}", self.show.symbol(Kind::Flow));
        let pressure = format!("Spraying pressure, {}", self.show.symbol(Kind::Pressure));
        draw_y(canvas, &self.y, self.x.from, self.x.to);
        title_y(canvas, (self.x.from - LEFT, self.y.to - 18.0), &flow);
        draw_x(canvas, &self.x, self.y.from, self.y.to, &pressure);
    }

    /// A point with bars of 95 % from noise.
    pub(super) fn point(
        &self,
        canvas: &mut Canvas,
        p: &CurvePoint,
        mark: Mark,
        ink: Ink,
        is_filled: bool,
    ) {
        let at = self.at(p.pressure_pa.value, p.flow_m3_per_s.value);
        let across = |e: &Estimate, pixel: &dyn Fn(f64) -> Px| {
            let i = e.independent_interval_95();
            [pixel(i.low), pixel(i.high)]
        };
        let bar_x = across(&p.pressure_pa, &|v| self.at(v, p.flow_m3_per_s.value));
        let bar_y = across(&p.flow_m3_per_s, &|v| self.at(p.pressure_pa.value, v));
        canvas.line(&bar_x, ink, 1.2);
        canvas.line(&bar_y, ink, 1.2);
        canvas.mark(at, mark, 4.2, ink, is_filled);
    }

    /// The curve over its measured range, dashed a little beyond, with its prediction band.
    pub(super) fn curve(&self, canvas: &mut Canvas, curve: &NozzleCurve, ink: Ink, has_band: bool) {
        let (low, high) = (curve.range_pa.low, curve.range_pa.high);
        let inside = steps(low, high);
        if has_band {
            canvas.area(&self.band(curve, &inside), ink, 0.14);
        }
        let line = |pa: &[f64]| -> Vec<Px> {
            pa.iter()
                .map(|p| self.at(*p, curve.flow_at(*p).value))
                .collect()
        };
        canvas.line(&line(&inside), ink, 2.0);
        let ends = (low * 0.85, self.limit_pa().min(high * 1.15));
        for (from, to) in [(ends.0, low), (high, ends.1)] {
            if to > from {
                canvas.dashed(&line(&steps(from, to)), ink, 1.2, 3.0, 3.0);
            }
        }
    }

    /// Highest pressure on the axis, Pa.
    pub(super) fn limit_pa(&self) -> f64 {
        self.x.high * self.show.units.pressure.in_pa()
    }

    fn band(&self, curve: &NozzleCurve, pressures_pa: &[f64]) -> Vec<Px> {
        let edge = |pa: f64, sign: f64| {
            let q = curve.burst_flow_at(pa);
            self.at(pa, q.value + sign * q.expanded_95())
        };
        let upper = pressures_pa.iter().map(|p| edge(*p, 1.0));
        let lower = pressures_pa.iter().rev().map(|p| edge(*p, -1.0));
        upper.chain(lower).collect()
    }
}

/// Forty pressures from low to high.
pub(super) fn steps(low: f64, high: f64) -> Vec<f64> {
    (0..=40)
        .map(|i| low + (high - low) * f64::from(i) / 40.0)
        .collect()
}

/// Colour and shape of a series.
pub(super) const fn series(i: usize) -> (Ink, Mark) {
    (SERIES[i % SERIES.len()], MARKS[i % MARKS.len()])
}

/// Points of a group whether or not they made a curve.
fn points_of(source: Source, group: usize) -> Vec<CurvePoint> {
    let f = source.findings;
    match &f.groups[group].curve {
        Ok(c) => c.points.clone(),
        Err(_) => f.groups[group]
            .group
            .burst_indices
            .iter()
            .filter_map(|i| {
                let b = f.bursts.get(*i)?;
                if b.steady.exclusion.is_some() {
                    return None;
                }
                Some(CurvePoint {
                    burst_index: *i,
                    pressure_pa: b.steady.pressure_pa?,
                    flow_m3_per_s: b.steady.flow_m3_per_s?,
                })
            })
            .collect(),
    }
}

/// Draws the figure; `None` when no group has a point.
pub(crate) fn draw_curves(source: Source, width: Width) -> Result<Option<String>, FigureError> {
    let n = source.findings.groups.len();
    let points: Vec<Vec<CurvePoint>> = (0..n).map(|i| points_of(source, i)).collect();
    let names: Vec<String> = group_names(source.findings)
        .iter()
        .map(|name| shortened(name, if width.is_narrow() { 13 } else { 26 }))
        .collect();
    let all = || points.iter().flatten();
    let show = source.show;
    let Some((_, p_high)) =
        range_of(all().map(|p| show.to_unit(Kind::Pressure, p.pressure_pa.value)))
    else {
        return Ok(None);
    };
    let q_high = range_of(all().map(|p| show.to_unit(Kind::Flow, p.flow_m3_per_s.value)))
        .map_or(1.0, |r| r.1);
    let room = names
        .iter()
        .map(|name| text_width(name, LABEL))
        .fold(0.0, f64::max)
        + 27.0;
    let (w, h) = (width.px(), if width.is_flat() { 230.0 } else { 400.0 });
    let plot = Plot {
        x: Axis::new(0.0, p_high * 1.05, LEFT, w - room),
        y: Axis::new(0.0, q_high * 1.12, h - 48.0, 36.0),
        show,
    };
    draw(w, h, |canvas| {
        plot.axes(canvas);
        let mut ends = Vec::new();
        for (i, list) in points.iter().enumerate() {
            ends.push(paint_group(canvas, source, &plot, i, list));
        }
        paint_labels(canvas, &plot, &names, &ends);
    })
    .map(Some)
}

/// Paints one group and says where its label belongs.
fn paint_group(
    canvas: &mut Canvas,
    source: Source,
    plot: &Plot,
    group: usize,
    points: &[CurvePoint],
) -> Option<Px> {
    let (ink, mark) = series(group);
    let is_baseline = source
        .findings
        .groups
        .iter()
        .any(|g| g.baseline_group == Some(group));
    if let Ok(curve) = &source.findings.groups[group].curve {
        plot.curve(canvas, curve, ink, true);
        for p in &curve.outliers {
            plot.point(canvas, p, mark, ink, false);
            cross(
                canvas,
                plot.at(p.pressure_pa.value, p.flow_m3_per_s.value),
                ink,
            );
        }
    }
    for p in points {
        plot.point(canvas, p, mark, ink, !is_baseline);
    }
    points
        .iter()
        .map(|p| plot.at(p.pressure_pa.value, p.flow_m3_per_s.value))
        .filter(|p| p.0.is_finite() && p.1.is_finite())
        .max_by(|a, b| a.0.total_cmp(&b.0))
}

/// A cross over a point that is not used.
fn cross(canvas: &mut Canvas, at: Px, ink: Ink) {
    let (x, y) = at;
    canvas.line(&[(x - 6.0, y - 6.0), (x + 6.0, y + 6.0)], ink, 1.2);
    canvas.line(&[(x - 6.0, y + 6.0), (x + 6.0, y - 6.0)], ink, 1.2);
}

fn paint_labels(canvas: &mut Canvas, plot: &Plot, names: &[String], ends: &[Option<Px>]) {
    let shown: Vec<(usize, Px)> = ends
        .iter()
        .enumerate()
        .filter_map(|(i, end)| end.map(|e| (i, e)))
        .collect();
    let wanted: Vec<f64> = shown.iter().map(|(_, (_, y))| *y).collect();
    let heights = spread(&wanted, LABEL + 5.0, plot.y.to, plot.y.from - 8.0);
    for ((i, end), y) in shown.iter().zip(heights) {
        let (ink, mark) = series(*i);
        let x = plot.x.to + 8.0;
        canvas.line(&[(end.0 + 7.0, end.1), (x - 3.0, y)], AXIS, 0.7);
        canvas.mark((x + 2.0, y), mark, 4.0, ink, true);
        let set = Type {
            size: LABEL,
            is_bold: true,
            ink: TEXT,
        };
        canvas.text((x + 11.0, y), &names[*i], Anchor::Start, set);
    }
}
