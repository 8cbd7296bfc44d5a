//! Time trace: pressure, notes and flow against logger time.
//!
//! Three bands on one time axis. Pressure is drawn as the lowest and highest reading of each pixel, so that
//! ripple and short dips stay visible however long the recording is and the drawing stays small. The steady
//! part of each burst lies over it as a bar at its mean; tails noted stand between the bands.

use super::axis::{Axis, SMALL, draw_x, draw_y, range_of, title_y};
use super::canvas::{Anchor, Canvas, Mark, Px, Type, draw, text_width};
use super::label::{group_names, shortened};
use super::palette::{AXIS, BURST, LIMIT, NOZZLE, QUIET, RAW, SUPPLY, TEXT};
use super::{FigureError, Source, Width};
use crate::analysis::extent::extent;
use crate::findings::BurstFinding;
use crate::report::number::Kind;

const LEFT: f64 = 46.0;
const RIGHT: f64 = 14.0;

struct Layout {
    time: Axis,
    pressure: Axis,
    flow: Axis,
    setting_y: f64,
    note_y: f64,
    bottom: f64,
}

/// Draws the figure; `None` without a single reading.
pub(crate) fn draw_trace(source: Source, width: Width) -> Result<Option<String>, FigureError> {
    let signal = &source.findings.signal;
    let (Some(&from_s), Some(&to_s)) = (signal.t_s.first(), signal.t_s.last()) else {
        return Ok(None);
    };
    // Room for pressure and for flow; paper has less of it.
    let (tall, low) = if width.is_flat() {
        (90.0, 40.0)
    } else {
        (158.0, 72.0)
    };
    let w = width.px();
    let time = Axis::new(from_s, to_s, LEFT, w - RIGHT);
    let columns = columns(&signal.t_s, &signal.pressure_pa, &time);
    let highest = range_of(columns.iter().map(|column| above_zero(source, column.high)))
        .map_or(1.0, |r| r.1)
        .max(1e-9);
    let flow_high = range_of(
        source
            .findings
            .bursts
            .iter()
            .filter_map(|b| b.steady.flow_m3_per_s)
            .map(|q| source.show.to_unit(Kind::Flow, q.value)),
    )
    .map_or(1.0, |r| r.1)
    .max(1e-9);
    let layout = Layout {
        time,
        setting_y: 34.0,
        pressure: Axis::new(0.0, highest * 1.06, 80.0 + tall, 80.0),
        note_y: 104.0 + tall,
        flow: Axis::new(0.0, flow_high * 1.15, 150.0 + tall + low, 150.0 + tall),
        bottom: 150.0 + tall + low,
    };
    draw(w, layout.bottom + 44.0, |canvas| {
        paint(canvas, source, &layout, &columns, width);
    })
    .map(Some)
}

fn paint(canvas: &mut Canvas, source: Source, l: &Layout, columns: &[Column], width: Width) {
    let f = source.findings;
    for burst in &f.bursts {
        let (x0, x1) = span(&l.time, burst.burst.start_s, burst.burst.end_s);
        canvas.rect((x0, l.pressure.to - 4.0), (x1, l.bottom), BURST, 1.0);
    }
    draw_y(canvas, &l.pressure, LEFT, l.time.to);
    draw_y(canvas, &l.flow, LEFT, l.time.to);
    let title = |kind, word: &str| format!("{word}, {}", source.show.symbol(kind));
    title_y(
        canvas,
        (0.0, l.setting_y + 14.0),
        &title(Kind::Pressure, "Pressure"),
    );
    title_y(canvas, (0.0, l.flow.to - 18.0), &title(Kind::Flow, "Flow"));
    draw_x(canvas, &l.time, l.bottom, l.bottom, "Logger time, s");
    paint_gaps(canvas, source, l);
    paint_pressure(canvas, source, l, columns);
    paint_flow(canvas, source, l);
    paint_steady(canvas, source, l);
    paint_numbers(canvas, source, l);
    paint_grades(canvas, source, l);
    paint_settings(canvas, source, l, width);
}

fn span(time: &Axis, from_s: f64, to_s: f64) -> (f64, f64) {
    let (x0, x1) = (time.px_inside(from_s), time.px_inside(to_s));
    (x0, x1.max(x0 + 1.0))
}

fn paint_gaps(canvas: &mut Canvas, source: Source, l: &Layout) {
    for gap in &source.findings.signal.gaps {
        let (x0, x1) = span(&l.time, gap.from_s, gap.to_s);
        canvas.rect((x0, l.pressure.to), (x1, l.pressure.from), LIMIT, 0.25);
    }
}

/// A reading above the zero that was found, in the reader's unit.
fn above_zero(source: Source, pa: f64) -> f64 {
    let zero_pa = source.findings.zero_pa.value;
    source.show.to_unit(Kind::Pressure, pa - zero_pa)
}

/// Lowest and highest reading of each pixel, as one line that visits both.
fn paint_pressure(canvas: &mut Canvas, source: Source, l: &Layout, columns: &[Column]) {
    let mut path: Vec<Px> = Vec::new();
    for column in columns {
        let y = |pa: f64| l.pressure.px_inside(above_zero(source, pa));
        path.push((column.x, y(column.first)));
        if column.low < column.high {
            path.push((column.x, y(column.low)));
            path.push((column.x, y(column.high)));
        }
        path.push((column.x, y(column.last)));
    }
    path.dedup();
    canvas.line(&path, RAW, 0.9);
}

/// What one pixel column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Column {
    x: f64,
    first: f64,
    low: f64,
    high: f64,
    last: f64,
}

/// Readings gathered into columns of one pixel; columns without a reading are left out.
///
/// *Shape*: `t_s` increasing, as long as `values`. Where a column ends is searched, not asked of each reading.
fn columns(t_s: &[f64], values: &[f64], time: &Axis) -> Vec<Column> {
    let pixel = |t: f64| time.px(t).floor();
    let mut out: Vec<Column> = Vec::new();
    let mut begin = 0;
    while let Some(t) = t_s.get(begin) {
        let x = pixel(*t);
        let end = begin + 1 + t_s[begin + 1..].partition_point(|t| pixel(*t) <= x);
        let values = &values[begin..end];
        let is_read = |v: &&f64| !v.is_nan();
        if let (Some(range), Some(first), Some(last)) = (
            extent(values),
            values.iter().find(is_read),
            values.iter().rfind(is_read),
        ) {
            out.push(Column {
                x: x + 0.5,
                first: *first,
                low: range.low,
                high: range.high,
                last: *last,
            });
        }
        begin = end;
    }
    out
}

/// Flow as a step at each burst's mean, from trigger to trigger: zero between.
fn paint_flow(canvas: &mut Canvas, source: Source, l: &Layout) {
    for burst in &source.findings.bursts {
        let Some(flow) = burst.steady.flow_m3_per_s else {
            continue;
        };
        let y = l
            .flow
            .px_inside(source.show.to_unit(Kind::Flow, flow.value));
        let (x0, x1) = span(&l.time, burst.burst.start_s, burst.burst.end_s);
        canvas.rect((x0, y), (x1, l.flow.from), SUPPLY, 0.30);
        canvas.line(&[(x0, y), (x1, y)], SUPPLY, 2.0);
    }
}

fn paint_steady(canvas: &mut Canvas, source: Source, l: &Layout) {
    for burst in &source.findings.bursts {
        let Some(pressure) = burst.steady.pressure_pa else {
            continue;
        };
        let y = l
            .pressure
            .px_inside(source.show.to_unit(Kind::Pressure, pressure.value));
        let (x0, x1) = span(&l.time, burst.steady.from_s, burst.steady.to_s);
        if burst.steady.exclusion.is_none() {
            canvas.line(&[(x0, y), (x1, y)], NOZZLE, 3.0);
        } else {
            canvas.dashed(&[(x0, y), (x1, y)], NOZZLE, 1.5, 2.0, 2.0);
        }
    }
}

/// Numbers of the bursts above the pressure, as many as fit.
fn paint_numbers(canvas: &mut Canvas, source: Source, l: &Layout) {
    let mut free_from = f64::NEG_INFINITY;
    for (i, burst) in source.findings.bursts.iter().enumerate() {
        let text = (i + 1).to_string();
        let (x0, x1) = span(&l.time, burst.burst.start_s, burst.burst.end_s);
        let middle = 0.5 * (x0 + x1);
        let half = 0.5 * text_width(&text, SMALL);
        if middle - half < free_from {
            continue;
        }
        free_from = middle + half + 3.0;
        let set = Type {
            size: SMALL,
            is_bold: burst.steady.exclusion.is_none(),
            ink: if burst.steady.exclusion.is_none() {
                TEXT
            } else {
                QUIET
            },
        };
        canvas.text((middle, l.pressure.to - 12.0), &text, Anchor::Middle, set);
    }
}

/// Tail grades as one to three bars (none: a ring), runs as a drop.
fn paint_grades(canvas: &mut Canvas, source: Source, l: &Layout) {
    let set = Type {
        size: SMALL,
        is_bold: false,
        ink: QUIET,
    };
    canvas.text((LEFT - 7.0, l.note_y), "tails", Anchor::End, set);
    for burst in &source.findings.bursts {
        let (x0, x1) = span(&l.time, burst.burst.start_s, burst.burst.end_s);
        grade(canvas, (0.5 * (x0 + x1), l.note_y), burst);
    }
}

fn grade(canvas: &mut Canvas, at: Px, burst: &BurstFinding) {
    if let Some(tails) = burst.tails {
        grade_mark(canvas, at, tails);
    }
    if burst.runs == Some(true) {
        canvas.mark((at.0, at.1 + 15.0), Mark::Down, 3.2, LIMIT, true);
    }
}

/// The sign of a tail grade: a ring for none, one to three bars for faint, clear, heavy.
pub(super) fn grade_mark(canvas: &mut Canvas, at: Px, tails: u8) {
    let (x, y) = at;
    if tails == 0 {
        canvas.mark(at, Mark::Disc, 3.6, NOZZLE, false);
        return;
    }
    for i in 0..tails.min(3) {
        let dx = (f64::from(i) - 0.5 * f64::from(tails.min(3) - 1)) * 3.6;
        canvas.line(&[(x + dx, y - 6.0), (x + dx, y + 6.0)], TEXT, 2.0);
    }
}

/// What was set: a bracket over each run of bursts of one group.
fn paint_settings(canvas: &mut Canvas, source: Source, l: &Layout, width: Width) {
    let f = source.findings;
    let names = group_names(f);
    let mut runs: Vec<(usize, f64, f64)> = Vec::new();
    for burst in &f.bursts {
        let Some(group) = burst.group_index else {
            continue;
        };
        match runs.last_mut() {
            Some((g, _, end)) if *g == group => *end = burst.burst.end_s,
            _ => runs.push((group, burst.burst.start_s, burst.burst.end_s)),
        }
    }
    let set = Type {
        size: SMALL + 0.5,
        is_bold: true,
        ink: TEXT,
    };
    let mut free_from = 0.0;
    for (group, from_s, to_s) in runs {
        let (x0, x1) = span(&l.time, from_s, to_s);
        canvas.line(&[(x0, l.setting_y), (x1, l.setting_y)], AXIS, 1.5);
        let name = names.get(group).map_or("", String::as_str);
        let most = if width.is_narrow() { 14 } else { 34 };
        let at = x0.max(free_from);
        let fits = |text: &str| at + text_width(text, set.size) <= canvas.width;
        // "415 (after)" beside "415 (before)": where the whole has no room, what tells them apart stands alone.
        let text = [Some(name), name.find('(').map(|i| &name[i..])]
            .into_iter()
            .flatten()
            .map(|n| shortened(n, most))
            .find(|text| fits(text));
        if let Some(text) = text.filter(|_| at < x1.max(x0 + 30.0)) {
            canvas.text((at, l.setting_y - 12.0), &text, Anchor::Start, set);
            free_from = at + text_width(&text, set.size) + 8.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_keeps_its_lowest_and_highest_reading_however_many_there_are() {
        let n = 100_000;
        let t: Vec<f64> = (0..n).map(f64::from).collect();
        let mut v = vec![5.0; t.len()];
        v[50_000] = 99.0;
        v[50_001] = -7.0;
        v[10] = f64::NAN;
        let time = Axis::new(0.0, f64::from(n), 0.0, 500.0);
        let columns = columns(&t, &v, &time);
        assert!(columns.len() <= 501);
        let (low, high) = columns
            .iter()
            .fold((0.0f64, 0.0f64), |a, c| (a.0.min(c.low), a.1.max(c.high)));
        assert_eq!((low, high), (-7.0, 99.0));
    }
}
