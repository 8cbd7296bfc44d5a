//! How even one coat lies: film across the passes at several overlaps, one line an overlap.

use super::axis::{Axis, draw_x, draw_y, title_y};
use super::canvas::{Anchor, Canvas, Px, Type, draw};
use super::label::spread;
use super::palette::{SERIES, TEXT};
use super::{FigureError, Width};
use crate::report::card_data::StripeLine;
use crate::report::number::{Kind, Show};

const HEIGHT: f64 = 260.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 96.0;
/// Fan widths that are shown: two passes and more at any overlap drawn.
const SPAN: f64 = 1.5;

/// Draws film over its mean against the place across the passes, one line an overlap (a share of the fan).
/// Lines are told apart by their dashes as well as by colour; each has its name at its end.
pub(crate) fn draw_stripes(
    list: &[StripeLine],
    show: Show,
    width: Width,
) -> Result<Option<String>, FigureError> {
    if list.is_empty() {
        return Ok(None);
    }
    let w = width.px();
    let high = list
        .iter()
        .map(|line| line.stripes.greatest_ratio)
        .fold(1.0, f64::max);
    let x = Axis::new(0.0, 100.0 * SPAN, LEFT, w - RIGHT);
    let y = Axis::new(0.0, 110.0 * high, HEIGHT - 48.0, 40.0);
    draw(w, HEIGHT, |canvas| {
        draw_y(canvas, &y, x.from, x.to);
        title_y(canvas, (0.0, y.to - 18.0), "Film, % of its mean");
        draw_x(canvas, &x, y.from, y.to, "Across the passes, % of the fan");
        let lines: Vec<Vec<Px>> = list.iter().map(|line| path(line, &x, &y)).collect();
        let wanted: Vec<f64> = lines
            .iter()
            .map(|l| l.last().map_or(y.to, |p| p.1))
            .collect();
        let places = spread(&wanted, 15.0, y.to, y.from);
        for (i, (line, shown)) in lines.iter().zip(list).enumerate() {
            paint(canvas, line, i);
            let at = places.get(i).copied().unwrap_or(y.to);
            let name = Type {
                size: 12.0,
                is_bold: true,
                ink: TEXT,
            };
            let overlap = show.plain(Kind::Percent, shown.overlap_ratio, "");
            let text = format!("overlap {}", overlap.to_text());
            canvas.text((x.to + 6.0, at - 7.0), &text, Anchor::Start, name);
        }
    })
    .map(Some)
}

/// One line over all passes that are shown: the film repeats with the pitch.
fn path(line: &StripeLine, x: &Axis, y: &Axis) -> Vec<Px> {
    let pitch = 1.0 - line.overlap_ratio;
    let stripes = &line.stripes;
    let mut out = Vec::new();
    let mut from = 0.0;
    while from < SPAN {
        for (place, film) in stripes.place_ratio.iter().zip(&stripes.film_ratio) {
            let at = from + place;
            if at <= SPAN {
                out.push((x.px(100.0 * at), y.px(100.0 * film)));
            }
        }
        from += pitch;
    }
    out
}

fn paint(canvas: &mut Canvas, line: &[Px], index: usize) {
    let ink = SERIES[index % SERIES.len()];
    match index {
        0 => canvas.line(line, ink, 2.4),
        1 => canvas.dashed(line, ink, 2.0, 8.0, 4.0),
        _ => canvas.dashed(line, ink, 2.0, 2.0, 3.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::film::stripe::{FanProfile, lay_passes};
    use crate::units::UnitChoice;

    #[test]
    fn each_overlap_has_its_name_and_no_overlap_no_figure() {
        let list: Vec<StripeLine> = [0.296, 0.5]
            .iter()
            .map(|o| StripeLine {
                overlap_ratio: *o,
                stripes: lay_passes(&FanProfile::assumed(), *o, &[]).unwrap(),
            })
            .collect();
        let show = Show {
            units: UnitChoice::default(),
        };
        for width in [Width::Wide, Width::Narrow] {
            let svg = draw_stripes(&list, show, width).unwrap().unwrap();
            assert!(svg.contains("overlap 50\u{a0}%") && svg.contains("overlap 30\u{a0}%"));
            assert!(!svg.contains("NaN"));
        }
        assert_eq!(draw_stripes(&[], show, Width::Wide).unwrap(), None);
    }
}
