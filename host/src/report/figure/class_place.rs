//! Where each student stands against the reference: one row a student, every burst a dot, the mean with its
//! interval, and the stretches in which a score is satisfactory or questionable.

use super::axis::{Axis, draw_x, range_of};
use super::canvas::{Anchor, Canvas, Mark, Type, draw};
use super::label::shortened;
use super::palette::{AXIS, BURST, GRID, LIMIT, NOZZLE, QUIET, RAW, TEXT, WINDOW};
use super::{FigureError, Width};
use crate::estimate::Interval;

const ROW: f64 = 46.0;
const LEFT: f64 = 14.0;
const RIGHT: f64 = 16.0;

/// One row of the figure; all numbers relative, 0.1 being ten percent above the reference.
pub(crate) struct Place {
    /// Name or code.
    pub(crate) label: String,
    /// One a burst.
    pub(crate) bursts: Vec<f64>,
    /// Mean of the bursts.
    pub(crate) mean: Option<f64>,
    /// Its 95 % interval.
    pub(crate) interval_95: Option<Interval>,
    /// What stands at the right end of the row.
    pub(crate) remark: String,
    /// True when the student stands out.
    pub(crate) is_out: bool,
}

/// Draws the figure; `None` when no student has a burst.
pub(crate) fn draw_class_place(
    places: &[Place],
    scale_sd_ratio: Option<f64>,
    width: Width,
) -> Result<Option<String>, FigureError> {
    let percent = |r: f64| 100.0 * r;
    let ends = places
        .iter()
        .flat_map(|p| p.interval_95.iter().flat_map(|i| [i.low, i.high]));
    let bursts = places.iter().flat_map(|p| p.bursts.iter().copied());
    let bands = scale_sd_ratio.iter().flat_map(|sd| [-3.3 * sd, 3.3 * sd]);
    let Some((low, high)) = range_of(bursts.clone().map(percent)) else {
        return Ok(None);
    };
    let all = bursts.chain(ends).chain(bands).chain([0.0]).map(percent);
    let (low, high) = range_of(all).unwrap_or((low, high));
    let room = 0.05 * (high - low).max(1.0);
    #[allow(clippy::cast_precision_loss)]
    let height = 12.0 + ROW * places.len() as f64 + 44.0;
    let w = width.px();
    let x = Axis::new(low - room, high + room, LEFT, w - RIGHT);
    draw(w, height, |canvas| {
        let bottom = height - 44.0;
        if let Some(sd) = scale_sd_ratio {
            for (k, ink) in [(3.0, BURST), (2.0, WINDOW)] {
                let at = |s: f64| x.px_inside(percent(s * k * sd));
                canvas.rect((at(-1.0), 10.0), (at(1.0), bottom), ink, 1.0);
            }
        }
        let title = if width.is_narrow() {
            "Flow against reference, %"
        } else {
            "Flow against the reference at the same pressure, %"
        };
        draw_x(canvas, &x, bottom, 10.0, title);
        let zero = x.px_inside(0.0);
        canvas.line(&[(zero, 10.0), (zero, bottom)], AXIS, 2.0);
        for (row, place) in places.iter().enumerate() {
            #[allow(clippy::cast_precision_loss)]
            let top = 10.0 + ROW * row as f64;
            paint_row(canvas, &x, top, place, width);
        }
    })
    .map(Some)
}

fn paint_row(canvas: &mut Canvas, x: &Axis, top: f64, place: &Place, width: Width) {
    let px = |ratio: f64| x.px_inside(100.0 * ratio);
    let middle = top + 32.0;
    canvas.line(&[(x.from, middle), (x.to, middle)], GRID, 1.0);
    for burst in &place.bursts {
        canvas.mark((px(*burst), middle), Mark::Disc, 2.4, RAW, true);
    }
    let ink = if place.is_out { LIMIT } else { NOZZLE };
    if let Some(i) = &place.interval_95 {
        canvas.line(&[(px(i.low), middle), (px(i.high), middle)], ink, 3.0);
    }
    if let Some(mean) = place.mean {
        let mark = if place.is_out {
            Mark::Diamond
        } else {
            Mark::Disc
        };
        canvas.mark((px(mean), middle), mark, 5.0, ink, true);
    }
    let bold = Type {
        size: 13.0,
        is_bold: true,
        ink: TEXT,
    };
    let most = if width.is_narrow() { 20 } else { 40 };
    let label = shortened(&place.label, most);
    canvas.text((x.from, top + 12.0), &label, Anchor::Start, bold);
    let quiet = Type {
        size: 12.0,
        is_bold: false,
        ink: if place.is_out { LIMIT } else { QUIET },
    };
    canvas.text((x.to, top + 12.0), &place.remark, Anchor::End, quiet);
}
