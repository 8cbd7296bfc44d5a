//! Working window of one group: its nozzle curve, the supply curve at full control, where they meet, and the
//! stretch of pressure in which the fan is even and the rig holds it.

use super::axis::{Axis, range_of};
use super::canvas::{Anchor, Canvas, Mark, Px, Type, draw, text_width};
use super::curves::{Plot, steps};
use super::palette::{Ink, LIMIT, NOZZLE, SUPPLY, TEXT, WINDOW};
use super::{FigureError, Source, Width};
use crate::analysis::supply_curve::SupplyCurve;
use crate::analysis::window::{UpperLimit, Window};
use crate::findings::GroupFinding;
use crate::report::card_data::pressure_to_set;
use crate::report::number::Kind;

const LEFT: f64 = 46.0;
const RIGHT: f64 = 16.0;
const LABEL: f64 = 12.5;

/// Draws the figure of one group; `None` when it has neither curve nor window.
pub(crate) fn draw_window(
    source: Source,
    group_index: usize,
    width: Width,
) -> Result<Option<String>, FigureError> {
    let Some(g) = source.findings.groups.get(group_index) else {
        return Ok(None);
    };
    let Some((p_high, q_high)) = extent(source, g) else {
        return Ok(None);
    };
    let (w, h) = (width.px(), 340.0);
    let plot = Plot {
        x: Axis::new(0.0, p_high * 1.1, LEFT, w - RIGHT),
        y: Axis::new(0.0, q_high * 1.2, h - 48.0, 76.0),
        show: source.show,
    };
    draw(w, h, |canvas| paint(canvas, source, group_index, &plot)).map(Some)
}

/// Highest pressure and flow that must be seen, in the reader's units.
fn extent(source: Source, g: &GroupFinding) -> Option<(f64, f64)> {
    let show = source.show;
    let full = source.findings.supply.iter().find(|s| s.is_full);
    let supply = full.iter().flat_map(|s| &s.points);
    let own: Vec<(f64, f64)> = g
        .curve
        .as_ref()
        .ok()
        .map(|c| {
            c.points
                .iter()
                .map(|p| (p.pressure_pa.value, p.flow_m3_per_s.value))
                .collect()
        })
        .unwrap_or_default();
    let window = g.window.iter().map(|w| w.upper_pa);
    let stalled = supply.clone().filter_map(|p| p.stalled_pa);
    let pressures = own
        .iter()
        .map(|p| p.0)
        .chain(supply.clone().map(|p| p.pressure_pa.value))
        .chain(stalled)
        .chain(window)
        .chain(source.findings.settings.limits.working_pressure_pa);
    let (_, p_high) = range_of(pressures.map(|p| show.to_unit(Kind::Pressure, p)))?;
    let flows = own
        .iter()
        .map(|p| p.1)
        .chain(g.crossing.iter().map(|c| c.flow_m3_per_s));
    let (_, q_high) = range_of(flows.map(|q| show.to_unit(Kind::Flow, q)))?;
    Some((p_high, q_high))
}

fn paint(canvas: &mut Canvas, source: Source, group_index: usize, plot: &Plot) {
    let g = &source.findings.groups[group_index];
    let full = source.findings.supply.iter().find(|s| s.is_full);
    if let Some(w) = &g.window {
        paint_window(canvas, w, plot);
    }
    plot.axes(canvas);
    if let Some(at) = full.and_then(|s| paint_supply(canvas, s, plot)) {
        label(canvas, at, "supply curve", Anchor::End);
    }
    if let Ok(curve) = &g.curve {
        plot.curve(canvas, curve, NOZZLE, true);
        for p in &curve.points {
            plot.point(canvas, p, Mark::Disc, NOZZLE, true);
        }
        let middle = 0.5 * (curve.range_pa.low + curve.range_pa.high);
        let (x, y) = plot.at(middle, curve.flow_at(middle).value);
        label(canvas, (x - 8.0, y - 14.0), "nozzle curve", Anchor::End);
    }
    if let Some(c) = &g.crossing {
        paint_crossing(
            canvas,
            plot,
            c.pressure_pa.value,
            c.flow_m3_per_s,
            (c.interval_95_pa.low, c.interval_95_pa.high),
        );
    }
    if let Some(w) = &g.window {
        if let Some(set) = pressure_to_set(source.findings, group_index) {
            paint_set(canvas, source, (set, w.upper_pa), plot);
        }
        paint_ends(canvas, w, plot);
    }
    if let Some(pa) = source.findings.settings.limits.working_pressure_pa {
        paint_rating(canvas, plot, pa);
    }
}

fn pressure_px(plot: &Plot, pa: f64) -> f64 {
    plot.x.px_inside(plot.show.to_unit(Kind::Pressure, pa))
}

/// The window as an area from its lower to its upper end, where it is open.
fn paint_window(canvas: &mut Canvas, w: &Window, plot: &Plot) {
    let Some(lower) = w.lower_pa.filter(|l| *l < w.upper_pa) else {
        return;
    };
    let (x0, x1) = (pressure_px(plot, lower), pressure_px(plot, w.upper_pa));
    canvas.rect((x0, plot.y.to - 8.0), (x1, plot.y.from), WINDOW, 1.0);
}

const TAILS_GONE: &str = "tails gone";

/// Both ends with their intervals on a rail above the plot.
fn paint_ends(canvas: &mut Canvas, w: &Window, plot: &Plot) {
    let rail = plot.y.to - 8.0;
    let end = |canvas: &mut Canvas, pa: f64, low: f64, high: f64| {
        let x = pressure_px(plot, pa);
        canvas.line(&[(x, rail - 5.0), (x, plot.y.from)], TEXT, 1.2);
        canvas.line(
            &[
                (pressure_px(plot, low), rail),
                (pressure_px(plot, high), rail),
            ],
            TEXT,
            3.0,
        );
        x
    };
    let upper = end(
        canvas,
        w.upper_pa,
        w.upper_interval_pa.low,
        w.upper_interval_pa.high,
    );
    let upper_text = match w.upper_limit {
        UpperLimit::Supply => "rig holds",
        UpperLimit::SupplyComputed => "rig would hold",
        UpperLimit::WorkingPressure => "rating",
        UpperLimit::CoatingLimit => "coating's limit",
        UpperLimit::Runs => "runs begin",
        UpperLimit::HighestTried => "highest tried",
    };
    let lower = w.lower_pa.zip(w.lower_interval_pa);
    let lower = lower.map(|(pa, i)| end(canvas, pa, i.low, i.high));
    let is_closed = lower.is_some_and(|x| upper < x);
    let y = rail - 16.0;
    // Each name stands outside its own end, also where a closed window has them the other way round.
    let to_the_left = |canvas: &mut Canvas, x: f64, text: &str| {
        let x = x.max(text_width(text, LABEL));
        label(canvas, (x, y), text, Anchor::End);
        x
    };
    let to_the_right = |canvas: &mut Canvas, x: f64, text: &str| {
        let x = x.min(canvas.width - text_width(text, LABEL));
        label(canvas, (x, y), text, Anchor::Start);
    };
    match lower {
        Some(lower) if is_closed => {
            let upper_end = to_the_left(canvas, upper, upper_text);
            to_the_right(canvas, lower.max(upper_end + 6.0), TAILS_GONE);
        }
        Some(lower) => {
            let lower_end = to_the_left(canvas, lower, TAILS_GONE);
            to_the_right(canvas, upper.max(lower_end + 6.0), upper_text);
        }
        None => to_the_right(canvas, upper, upper_text),
    }
}

/// The pressure to set: a pin down to the curve with its number.
fn paint_set(canvas: &mut Canvas, source: Source, (set_pa, upper_pa): (f64, f64), plot: &Plot) {
    let x = pressure_px(plot, set_pa);
    let top = plot.y.to - 34.0;
    canvas.line(&[(x, top), (x, plot.y.from)], NOZZLE, 2.4);
    canvas.mark((x, top), Mark::Down, 6.0, NOZZLE, true);
    let number = source.show.setting(set_pa, Some(upper_pa), "");
    let text = format!("set {}", number.to_text());
    let set = Type {
        size: 14.0,
        is_bold: true,
        ink: TEXT,
    };
    let half = 0.5 * text_width(&text, 14.0);
    let at = x.clamp(half, canvas.width - half);
    canvas.text((at, top - 16.0), &text, Anchor::Middle, set);
}

/// The curve with its points; where its name goes.
fn paint_supply(canvas: &mut Canvas, s: &SupplyCurve, plot: &Plot) -> Option<Px> {
    let q_high = plot.y.high * plot.show.units.flow.in_m3_per_s();
    let path: Vec<Px> = steps(0.0, q_high)
        .into_iter()
        .map_while(|q| s.pressure_at(q).map(|(p, _)| plot.at(p, q)))
        .collect();
    canvas.line(&path, SUPPLY, 2.4);
    for p in &s.points {
        let at = plot.at(p.pressure_pa.value, p.flow_m3_per_s.value);
        if plot.y.to <= at.1 {
            canvas.mark(at, Mark::Square, 3.6, SUPPLY, true);
        }
    }
    path.get(9).map(|(x, y)| (x - 8.0, *y))
}

fn paint_crossing(canvas: &mut Canvas, plot: &Plot, pa: f64, flow: f64, interval: (f64, f64)) {
    let at = plot.at(pa, flow);
    let bar = [plot.at(interval.0, flow), plot.at(interval.1, flow)];
    canvas.line(&bar, TEXT, 2.0);
    canvas.mark(at, Mark::Diamond, 6.0, TEXT, false);
}

fn paint_rating(canvas: &mut Canvas, plot: &Plot, pa: f64) {
    let x = plot.x.px(plot.show.to_unit(Kind::Pressure, pa));
    if !plot.x.holds(plot.show.to_unit(Kind::Pressure, pa)) {
        return;
    }
    canvas.dashed(
        &[(x, plot.y.to - 8.0), (x, plot.y.from)],
        LIMIT,
        1.6,
        6.0,
        4.0,
    );
    label_ink(
        canvas,
        (x - 5.0, plot.y.from - 10.0),
        "lowest rating",
        Anchor::End,
        LIMIT,
    );
}

fn label(canvas: &mut Canvas, at: Px, text: &str, anchor: Anchor) {
    label_ink(canvas, at, text, anchor, TEXT);
}

fn label_ink(canvas: &mut Canvas, at: Px, text: &str, anchor: Anchor, ink: Ink) {
    let set = Type {
        size: LABEL,
        is_bold: false,
        ink,
    };
    canvas.text(at, text, anchor, set);
}
