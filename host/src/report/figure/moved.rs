//! Which curve moved: the nozzle curve before and after, and the pressure held at full control over time.
//!
//! Two panels beside each other (one above the other on a phone). A blocked or worn tip moves the left
//! one, an inlet, a pump or a battery the right one.

use super::axis::{Axis, draw_x, draw_y, range_of, title_y};
use super::canvas::{Anchor, Canvas, Mark, Px, Type, draw};
use super::curves::{Plot, series};
use super::palette::{NOZZLE, QUIET, SUPPLY, TEXT};
use super::{FigureError, Source, Width};
use crate::analysis::nozzle_curve::NozzleCurve;
use crate::analysis::supply_curve::SupplyCurve;
use crate::analysis::verdict::VerdictKind;
use crate::report::number::{Kind, Show};

pub(super) const PANEL_HEIGHT: f64 = 330.0;
pub(super) const LEFT: f64 = 46.0;

/// Curves before and after of a group that has a baseline.
fn nozzle_pair<'a>(
    source: Source<'a>,
    group_index: usize,
) -> Option<(&'a NozzleCurve, &'a NozzleCurve)> {
    let g = source.findings.groups.get(group_index)?;
    let before = source.findings.groups.get(g.baseline_group?)?;
    before.curve.as_ref().ok().zip(g.curve.as_ref().ok())
}

/// True when there is something to compare for this group: an earlier state, or a supply that fell.
fn has_moved(source: Source, group_index: usize) -> bool {
    nozzle_pair(source, group_index).is_some()
        || source.findings.verdicts.iter().any(|v| {
            v.group_index == group_index
                && matches!(
                    v.kind,
                    VerdictKind::RestrictionInlet
                        | VerdictKind::WeakBattery
                        | VerdictKind::RestrictionTip
                )
        })
}

/// Draws the figure; `None` when there is nothing to compare.
pub(crate) fn draw_moved(
    source: Source,
    group_index: usize,
    width: Width,
) -> Result<Option<String>, FigureError> {
    if !has_moved(source, group_index) {
        return Ok(None);
    }
    let supply = source.findings.supply.iter().find(|s| s.is_full);
    let own = source
        .findings
        .groups
        .get(group_index)
        .and_then(|g| g.curve.as_ref().ok());
    let w = width.px();
    let (panel, height) = if width.is_narrow() {
        (w, 2.0 * PANEL_HEIGHT)
    } else {
        (0.5 * w - 12.0, PANEL_HEIGHT)
    };
    let second: Px = if width.is_narrow() {
        (0.0, PANEL_HEIGHT)
    } else {
        (0.5 * w + 12.0, 0.0)
    };
    draw(w, height, |canvas| {
        match (nozzle_pair(source, group_index), own) {
            (Some((before, after)), _) => {
                paint_nozzles(
                    canvas,
                    source.show,
                    panel,
                    &[(before, "before"), (after, "after")],
                );
            }
            (None, Some(only)) => {
                paint_nozzles(canvas, source.show, panel, &[(only, "did not move")]);
            }
            (None, None) => {}
        }
        if let Some(s) = supply {
            paint_supply(canvas, source, panel, second, s);
        }
    })
    .map(Some)
}

pub(super) fn paint_nozzles(
    canvas: &mut Canvas,
    show: Show,
    panel: f64,
    curves: &[(&NozzleCurve, &str)],
) {
    let points = || curves.iter().flat_map(|(c, _)| &c.points);
    let p = range_of(points().map(|p| show.to_unit(Kind::Pressure, p.pressure_pa.value)));
    let q = range_of(points().map(|p| show.to_unit(Kind::Flow, p.flow_m3_per_s.value)));
    let plot = Plot {
        x: Axis::new(0.0, p.map_or(1.0, |r| r.1 * 1.15), LEFT, panel - 58.0),
        y: Axis::new(
            0.0,
            q.map_or(1.0, |r| r.1 * 1.15),
            PANEL_HEIGHT - 48.0,
            62.0,
        ),
        show,
    };
    heading(canvas, (0.0, 14.0), "Nozzle curve");
    plot.axes(canvas);
    for (i, (curve, word)) in curves.iter().enumerate() {
        let is_last = i + 1 == curves.len();
        let (ink, mark) = if is_last {
            (NOZZLE, Mark::Disc)
        } else {
            (QUIET, Mark::Square)
        };
        plot.curve(canvas, curve, ink, true);
        for p in &curve.points {
            plot.point(canvas, p, mark, ink, is_last);
        }
        let at = plot.at(
            curve.range_pa.high,
            curve.flow_at(curve.range_pa.high).value,
        );
        // The higher of two curves has its word above, or a curve that rose would meet the other's.
        let end = |c: &NozzleCurve| c.flow_at(c.range_pa.high).value;
        let is_highest = curves.iter().all(|(other, _)| end(other) <= end(curve));
        let dy = if is_highest && curves.len() > 1 {
            -9.0
        } else {
            9.0
        };
        word_at(canvas, (at.0 + 8.0, at.1 + dy), word);
    }
}

fn paint_supply(canvas: &mut Canvas, source: Source, panel: f64, origin: Px, s: &SupplyCurve) {
    let show = source.show;
    let (x0, y0) = origin;
    let pressure = |pa: f64| show.to_unit(Kind::Pressure, pa);
    let t = range_of(s.points.iter().map(|p| p.t_s));
    let (t_low, t_high) = t.unwrap_or((0.0, 1.0));
    let room = 0.06 * (t_high - t_low).max(1.0);
    let high =
        range_of(s.points.iter().map(|p| pressure(p.pressure_pa.value))).map_or(1.0, |r| r.1);
    let x = Axis::new(t_low - room, t_high + room, x0 + LEFT, x0 + panel - 58.0);
    let y = Axis::new(0.0, high * 1.15, y0 + PANEL_HEIGHT - 48.0, y0 + 62.0);
    heading(canvas, (x0, y0 + 14.0), "Pressure held at full control");
    draw_y(canvas, &y, x.from, x.to);
    let title = format!("Pressure, {}", show.symbol(Kind::Pressure));
    title_y(canvas, (x0, y.to - 18.0), &title);
    draw_x(canvas, &x, y.from, y.to, "Logger time, s");
    let mut tips: Vec<&str> = s.points.iter().map(|p| p.tip.as_str()).collect();
    tips.sort_unstable();
    tips.dedup();
    for p in &s.points {
        let i = tips.iter().position(|t| *t == p.tip).unwrap_or(0);
        let (_, mark) = series(i + 1);
        let at = (x.px(p.t_s), y.px(pressure(p.pressure_pa.value)));
        let bar = p.pressure_pa.independent_interval_95();
        canvas.line(
            &[
                (at.0, y.px(pressure(bar.low))),
                (at.0, y.px(pressure(bar.high))),
            ],
            SUPPLY,
            1.2,
        );
        canvas.mark(at, mark, 4.4, SUPPLY, true);
    }
    for tip in tips {
        if let Some(last) = s.points.iter().rev().find(|p| p.tip == tip) {
            let at = (x.px(last.t_s) + 9.0, y.px(pressure(last.pressure_pa.value)));
            word_at(canvas, at, tip);
        }
    }
}

pub(super) fn heading(canvas: &mut Canvas, at: Px, text: &str) {
    let set = Type {
        size: 14.0,
        is_bold: true,
        ink: TEXT,
    };
    canvas.text(at, text, Anchor::Start, set);
}

pub(super) fn word_at(canvas: &mut Canvas, at: Px, text: &str) {
    let set = Type {
        size: 12.5,
        is_bold: true,
        ink: TEXT,
    };
    canvas.text(at, text, Anchor::Start, set);
}
