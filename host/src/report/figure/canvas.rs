//! A drawing surface in CSS pixels with tenths, over plotters' whole-pixel SVG backend.
//!
//! The backend rounds to whole units; drawing at ten units a pixel keeps curves smooth. Only what is
//! finite is drawn.

use plotters::coord::Shift;
use plotters::prelude::{
    Circle, DrawingArea, FontStyle, IntoDrawingArea, IntoFont, IntoTextStyle, PathElement, Polygon,
    Rectangle, SVGBackend, ShapeStyle,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, RGBAColor};

use super::FigureError;
use super::palette::{GROUND, Ink};
use crate::report::piece::printable;

/// Units of the drawing in one CSS pixel.
const UNITS_PER_PX: f64 = 10.0;
/// The backend writes font sizes divided by this.
const FONT_FACTOR: f64 = 1.24;

/// A point in CSS pixels.
pub(super) type Px = (f64, f64);

/// Where a text hangs on its point, horizontally.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// Shapes of marks, so that no series is told by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    Disc,
    Square,
    Triangle,
    Diamond,
    Down,
}

/// The shapes in the order of the series colours.
pub(super) const MARKS: [Mark; 5] = [
    Mark::Disc,
    Mark::Square,
    Mark::Triangle,
    Mark::Diamond,
    Mark::Down,
];

/// How a text is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    pub(super) size: f64,
    pub(super) is_bold: bool,
    pub(super) ink: Ink,
}

/// A text that waits for the lines.
struct Text {
    at: Px,
    text: String,
    anchor: Anchor,
    set: Type,
}

/// A figure being drawn. All texts come after all else: no line may cross one.
pub(super) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
    texts: Vec<Text>,
    failure: Option<FigureError>,
    pub(super) width: f64,
}

/// Draws a figure of a size in CSS pixels into an SVG text.
pub(super) fn draw(
    width: f64,
    height: f64,
    paint: impl FnOnce(&mut Canvas),
) -> Result<String, FigureError> {
    let mut text = String::new();
    {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let size = (
            (width * UNITS_PER_PX) as u32,
            (height * UNITS_PER_PX) as u32,
        );
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        let mut canvas = Canvas {
            area,
            texts: Vec::new(),
            failure: None,
            width,
        };
        canvas.rect((0.0, 0.0), (width, height), GROUND, 1.0);
        paint(&mut canvas);
        for text in std::mem::take(&mut canvas.texts) {
            canvas.write(&text);
        }
        canvas.area.present().map_err(failed)?;
        if let Some(failure) = canvas.failure {
            return Err(failure);
        }
    }
    // The view box keeps the drawing's units; the size on a page is in pixels.
    let units = format!(
        "width=\"{:.0}\" height=\"{:.0}\"",
        (width * UNITS_PER_PX).floor(),
        (height * UNITS_PER_PX).floor()
    );
    Ok(text.replacen(
        &units,
        &format!("width=\"{width:.0}\" height=\"{height:.0}\""),
        1,
    ))
}

fn failed(e: impl std::fmt::Display) -> FigureError {
    FigureError {
        what: e.to_string(),
    }
}

fn units(px: Px) -> (i32, i32) {
    #[allow(clippy::cast_possible_truncation)]
    let unit = |v: f64| (v * UNITS_PER_PX).round().clamp(-1e6, 1e6) as i32;
    (unit(px.0), unit(px.1))
}

fn is_finite(px: &Px) -> bool {
    px.0.is_finite() && px.1.is_finite()
}

fn shade(ink: Ink, opacity: f64) -> RGBAColor {
    ink.colour().mix(opacity)
}

fn stroke(ink: Ink, width: f64) -> ShapeStyle {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let units = (width * UNITS_PER_PX).round().clamp(1.0, 1e4) as u32;
    ink.colour().stroke_width(units)
}

impl Canvas<'_> {
    fn keep<E: std::fmt::Display>(&mut self, result: Result<(), E>) {
        if let Err(e) = result
            && self.failure.is_none()
        {
            self.failure = Some(failed(e));
        }
    }

    /// A line through points; a point that is not finite breaks it.
    pub(super) fn line(&mut self, points: &[Px], ink: Ink, width: f64) {
        for part in points.split(|p| !is_finite(p)) {
            if part.len() < 2 {
                continue;
            }
            let path: Vec<_> = part.iter().map(|p| units(*p)).collect();
            let drawn = self.area.draw(&PathElement::new(path, stroke(ink, width)));
            self.keep(drawn);
        }
    }

    /// A dashed line through points: `dash` px drawn, `gap` px left out.
    pub(super) fn dashed(&mut self, points: &[Px], ink: Ink, width: f64, dash: f64, gap: f64) {
        let mut is_drawn = true;
        let mut left = dash;
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let length = (x1 - x0).hypot(y1 - y0);
            if !length.is_finite() || length == 0.0 {
                continue;
            }
            let at = |s: f64| (x0 + (x1 - x0) * s / length, y0 + (y1 - y0) * s / length);
            let mut from = 0.0;
            while from < length {
                let to = (from + left).min(length);
                if is_drawn {
                    self.line(&[at(from), at(to)], ink, width);
                }
                left -= to - from;
                from = to;
                if left <= 1e-9 {
                    is_drawn = !is_drawn;
                    left = if is_drawn { dash } else { gap };
                }
            }
        }
    }

    /// A filled area.
    pub(super) fn area(&mut self, points: &[Px], ink: Ink, opacity: f64) {
        if points.len() < 3 || !points.iter().all(is_finite) {
            return;
        }
        let path: Vec<_> = points.iter().map(|p| units(*p)).collect();
        let drawn = self.area.draw(&Polygon::new(path, shade(ink, opacity)));
        self.keep(drawn);
    }

    /// A filled rectangle.
    pub(super) fn rect(&mut self, from: Px, to: Px, ink: Ink, opacity: f64) {
        if !is_finite(&from) || !is_finite(&to) {
            return;
        }
        let drawn = self.area.draw(&Rectangle::new(
            [units(from), units(to)],
            shade(ink, opacity).filled(),
        ));
        self.keep(drawn);
    }

    /// A mark, filled or hollow.
    pub(super) fn mark(&mut self, at: Px, mark: Mark, radius: f64, ink: Ink, is_filled: bool) {
        if !is_finite(&at) {
            return;
        }
        if mark == Mark::Disc {
            self.disc(at, radius, ink, is_filled);
            return;
        }
        let (x, y) = at;
        let outline: &[Px] = match mark {
            Mark::Square => &[(-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88)],
            Mark::Triangle => &[(0.0, -1.15), (1.05, 0.8), (-1.05, 0.8)],
            Mark::Down => &[(0.0, 1.15), (1.05, -0.8), (-1.05, -0.8)],
            Mark::Disc | Mark::Diamond => &[(0.0, -1.25), (1.15, 0.0), (0.0, 1.25), (-1.15, 0.0)],
        };
        let mut path: Vec<Px> = outline
            .iter()
            .map(|(dx, dy)| (x + dx * radius, y + dy * radius))
            .collect();
        self.area(&path.clone(), if is_filled { ink } else { GROUND }, 1.0);
        path.push(path[0]);
        path.push(path[1]);
        self.line(&path, ink, 1.4);
    }

    fn disc(&mut self, at: Px, radius: f64, ink: Ink, is_filled: bool) {
        let (r, _) = units((radius, 0.0));
        let fill = if is_filled { ink } else { GROUND };
        let drawn = self
            .area
            .draw(&Circle::new(units(at), r, fill.colour().filled()));
        self.keep(drawn);
        if !is_filled {
            let drawn = self.area.draw(&Circle::new(units(at), r, stroke(ink, 1.4)));
            self.keep(drawn);
        }
    }

    /// A text whose middle height lies on the point.
    pub(super) fn text(&mut self, at: Px, text: &str, anchor: Anchor, set: Type) {
        if is_finite(&at) && !text.is_empty() {
            self.texts.push(Text {
                at,
                text: printable(text),
                anchor,
                set,
            });
        }
    }

    fn write(&mut self, text: &Text) {
        let h = match text.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let style = if text.set.is_bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let font = ("sans-serif", text.set.size * UNITS_PER_PX * FONT_FACTOR)
            .into_font()
            .style(style);
        let colour = text.set.ink.colour();
        let style = font
            .into_text_style(&self.area)
            .color(&colour)
            .pos(Pos::new(h, VPos::Center));
        let drawn = self.area.draw_text(&text.text, &style, units(text.at));
        self.keep(drawn);
    }
}

/// Width of a text in CSS pixels, near enough to keep labels apart: a wide bold face is taken, so that no
/// reader's own font runs over an edge.
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let n = text.chars().count() as f64;
    0.68 * size * n
}

#[cfg(test)]
mod tests {
    use super::super::palette::TEXT;
    use super::*;

    #[test]
    fn no_line_is_drawn_over_a_text() {
        let set = Type {
            size: 12.0,
            is_bold: false,
            ink: TEXT,
        };
        let svg = draw(100.0, 80.0, |canvas| {
            canvas.text((50.0, 40.0), "lowest rating", Anchor::Middle, set);
            canvas.line(&[(0.0, 40.0), (100.0, 40.0)], TEXT, 1.0);
            canvas.text((f64::NAN, 0.0), "nowhere", Anchor::Start, set);
        })
        .unwrap();
        let at = |what: &str| svg.rfind(what);
        assert!(at("<text") > at("<polyline"), "{svg}");
        assert!(
            at("<polyline").is_some() && at("nowhere").is_none(),
            "{svg}"
        );
    }
}
