//! Tail grades against pressure, one row a group, with the bracket and the interval of the threshold.

use super::axis::{Axis, draw_x, range_of};
use super::canvas::{Anchor, Canvas, Mark, Type, draw};
use super::label::{group_names, shortened};
use super::palette::{GRID, NOZZLE, QUIET, TEXT, WINDOW};
use super::trace::grade_mark;
use super::{FigureError, Source, Width};
use crate::analysis::tail_threshold::TailThreshold;
use crate::findings::GroupFinding;
use crate::report::card_data::pressure_to_set;
use crate::report::number::Kind;

const ROW: f64 = 66.0;
const LEFT: f64 = 14.0;
const RIGHT: f64 = 16.0;

/// Draws the figure; `None` when nothing was graded.
pub(crate) fn draw_tails(source: Source, width: Width) -> Result<Option<String>, FigureError> {
    let f = source.findings;
    let rows: Vec<(usize, &GroupFinding)> = f
        .groups
        .iter()
        .enumerate()
        .filter(|(_, g)| !g.grades.is_empty())
        .collect();
    let pressures = rows
        .iter()
        .flat_map(|(_, g)| &g.grades)
        .map(|g| g.pressure_pa);
    let Some((low, high)) = range_of(pressures.map(|p| source.show.to_unit(Kind::Pressure, p)))
    else {
        return Ok(None);
    };
    #[allow(clippy::cast_precision_loss)]
    let height = 12.0 + ROW * rows.len() as f64 + 44.0;
    let w = width.px();
    let room = (0.08 * (high - low)).max(0.03 * high);
    let x = Axis::new((low - room).max(0.0), high + room, LEFT, w - RIGHT);
    let names = group_names(f);
    draw(w, height, |canvas| {
        let title = format!("Spraying pressure, {}", source.show.symbol(Kind::Pressure));
        draw_x(canvas, &x, height - 44.0, 10.0, &title);
        for (row, (i, g)) in rows.iter().enumerate() {
            #[allow(clippy::cast_precision_loss)]
            let top = 10.0 + ROW * row as f64;
            paint_row(canvas, source, &x, (top, &names[*i]), g, width);
            if let Some(set) = pressure_to_set(f, *i) {
                let at = x.px_inside(source.show.to_unit(Kind::Pressure, set));
                canvas.mark((at, top + 26.0), Mark::Down, 4.6, NOZZLE, true);
            }
        }
    })
    .map(Some)
}

fn paint_row(
    canvas: &mut Canvas,
    source: Source,
    x: &Axis,
    (top, name): (f64, &String),
    g: &GroupFinding,
    width: Width,
) {
    let px = |pa: f64| x.px_inside(source.show.to_unit(Kind::Pressure, pa));
    let middle = top + 44.0;
    if let TailThreshold::Between {
        estimate_pa,
        interval_95_pa: i,
        highest_with_tails_pa,
        lowest_without_pa,
        ..
    } = &g.tail_threshold
    {
        canvas.rect(
            (px(i.low), top + 30.0),
            (px(i.high), top + 58.0),
            WINDOW,
            1.0,
        );
        let bracket = [px(*highest_with_tails_pa), px(*lowest_without_pa)];
        canvas.line(
            &[(bracket[0], top + 60.0), (bracket[1], top + 60.0)],
            TEXT,
            1.6,
        );
        canvas.line(
            &[
                (px(*estimate_pa), top + 28.0),
                (px(*estimate_pa), top + 62.0),
            ],
            NOZZLE,
            2.4,
        );
    }
    canvas.line(&[(x.from, middle), (x.to, middle)], GRID, 1.0);
    for grade in &g.grades {
        grade_mark(canvas, (px(grade.pressure_pa), middle), grade.tails);
    }
    let most = if width.is_narrow() { 22 } else { 48 };
    let bold = Type {
        size: 13.0,
        is_bold: true,
        ink: TEXT,
    };
    canvas.text(
        (x.from, top + 14.0),
        &shortened(name, most),
        Anchor::Start,
        bold,
    );
    let quiet = Type {
        size: 12.0,
        is_bold: false,
        ink: QUIET,
    };
    canvas.text(
        (x.to, top + 14.0),
        threshold_word(&g.tail_threshold),
        Anchor::End,
        quiet,
    );
}

const fn threshold_word(threshold: &TailThreshold) -> &'static str {
    match threshold {
        TailThreshold::Between { overlap: true, .. } => "grades overlap",
        TailThreshold::Between { .. } => "bracketed",
        TailThreshold::Above { .. } => "tails everywhere",
        TailThreshold::Below { .. } => "no tails anywhere",
        TailThreshold::NoGrades => "",
    }
}
