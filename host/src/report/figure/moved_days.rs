//! Which curve moved between two days: the nozzle curve of one tip, and what the pump holds, then and now.
//!
//! Two panels beside each other (one above the other on a phone). The earlier day is drawn hollow and grey, the
//! later one filled, so that they stay apart without colour.

use super::axis::{Axis, range_of};
use super::canvas::{Canvas, Mark, Px, draw};
use super::curves::{Plot, steps};
use super::moved::{LEFT, PANEL_HEIGHT, heading, paint_nozzles, word_at};
use super::palette::{Ink, QUIET, SUPPLY};
use super::{FigureError, Width};
use crate::analysis::nozzle_curve::{CurvePoint, NozzleCurve};
use crate::analysis::supply_curve::SupplyCurve;
use crate::report::number::{Kind, Show};

/// What is drawn.
#[derive(Clone, Copy)]
pub(crate) struct Days<'a> {
    /// Nozzle curve before and after.
    pub(crate) nozzle: Option<(&'a NozzleCurve, &'a NozzleCurve)>,
    /// Supply curve before and after.
    pub(crate) supply: Option<(&'a SupplyCurve, &'a SupplyCurve)>,
}

/// Draws the figure; `None` when neither pair is there.
pub(crate) fn draw_days(
    days: Days,
    show: Show,
    width: Width,
) -> Result<Option<String>, FigureError> {
    let n_panels = usize::from(days.nozzle.is_some()) + usize::from(days.supply.is_some());
    if n_panels == 0 {
        return Ok(None);
    }
    let w = width.px();
    let is_stacked = width.is_narrow();
    let panel = if is_stacked || n_panels == 1 {
        w
    } else {
        0.5 * w - 12.0
    };
    let is_tall = is_stacked && n_panels == 2;
    let height = if is_tall {
        2.0 * PANEL_HEIGHT
    } else {
        PANEL_HEIGHT
    };
    let second: Px = match (days.nozzle, is_stacked) {
        (None, _) => (0.0, 0.0),
        (Some(_), true) => (0.0, PANEL_HEIGHT),
        (Some(_), false) => (0.5 * w + 12.0, 0.0),
    };
    draw(w, height, |canvas| {
        if let Some((before, after)) = days.nozzle {
            paint_nozzles(canvas, show, panel, &[(before, "before"), (after, "after")]);
        }
        if let Some((before, after)) = days.supply {
            paint_supplies(canvas, show, (panel, second), before, after);
        }
    })
    .map(Some)
}

fn paint_supplies(
    canvas: &mut Canvas,
    show: Show,
    (panel, (x0, y0)): (f64, Px),
    before: &SupplyCurve,
    after: &SupplyCurve,
) {
    let points = || before.points.iter().chain(&after.points);
    let p = range_of(points().map(|p| show.to_unit(Kind::Pressure, p.pressure_pa.value)));
    let q = range_of(points().map(|p| show.to_unit(Kind::Flow, p.flow_m3_per_s.value)));
    let plot = Plot {
        x: Axis::new(
            0.0,
            p.map_or(1.0, |r| r.1 * 1.15),
            x0 + LEFT,
            x0 + panel - 58.0,
        ),
        y: Axis::new(
            0.0,
            q.map_or(1.0, |r| r.1 * 1.15),
            y0 + PANEL_HEIGHT - 48.0,
            y0 + 62.0,
        ),
        show,
    };
    heading(canvas, (x0, y0 + 14.0), "What the pump holds");
    plot.axes(canvas);
    paint_one(canvas, &plot, before, (QUIET, Mark::Square), false);
    paint_one(canvas, &plot, after, (SUPPLY, Mark::Disc), true);
    let ends = [(before, "before"), (after, "after")].map(|(curve, word)| {
        let last = curve
            .points
            .iter()
            .max_by(|a, b| a.pressure_pa.value.total_cmp(&b.pressure_pa.value));
        let at = last.map(|p| plot.at(p.pressure_pa.value, p.flow_m3_per_s.value));
        (at, word)
    });
    let higher = ends.iter().filter_map(|e| e.0.map(|at| at.1));
    let higher = higher.fold(f64::INFINITY, f64::min);
    for (at, word) in ends {
        if let Some(at) = at {
            let dy = if at.1 <= higher { -9.0 } else { 9.0 };
            word_at(canvas, (at.0 + 8.0, at.1 + dy), word);
        }
    }
}

fn paint_one(
    canvas: &mut Canvas,
    plot: &Plot,
    curve: &SupplyCurve,
    (ink, mark): (Ink, Mark),
    is_later: bool,
) {
    let flows = || curve.points.iter().map(|p| p.flow_m3_per_s.value);
    let (low, high) = (
        flows().fold(f64::INFINITY, f64::min),
        flows().fold(0.0, f64::max),
    );
    let line: Vec<Px> = steps(low, high)
        .into_iter()
        .filter_map(|q| {
            let (p, _) = curve.pressure_at(q * (1.0 - 1e-9))?;
            Some(plot.at(p, q))
        })
        .collect();
    canvas.line(&line, ink, 2.0);
    for p in &curve.points {
        let point = CurvePoint {
            burst_index: p.burst_index,
            pressure_pa: p.pressure_pa,
            flow_m3_per_s: p.flow_m3_per_s,
        };
        plot.point(canvas, &point, mark, ink, is_later);
    }
}
