//! Power, sag and voltage of a battery against the charge drawn: three panels over one axis.

use super::axis::{Axis, draw_x, draw_y, range_of, title_y};
use super::canvas::{Anchor, Canvas, Mark, Px, Type, draw};
use super::palette::{GROUND, Ink, NOZZLE, SERIES, SUPPLY, TEXT};
use super::{FigureError, Width};
use crate::energy_findings::{EnergyFinding, EnergyPoint};
use crate::report::number::{Kind, Show};

const LEFT: f64 = 46.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 40.0;
/// Height of a panel, and what stands between two: their axis numbers and a title.
const PANEL: f64 = 132.0;
const FLAT_PANEL: f64 = 44.0;
const GAP: f64 = 54.0;
const FLAT_GAP: f64 = 42.0;
const LABEL: f64 = 12.5;

/// One panel: what is drawn of each burst.
struct Panel {
    title: &'static str,
    series: Vec<Series>,
    from_zero: bool,
}

struct Series {
    name: &'static str,
    ink: Ink,
    mark: Mark,
    /// Value at the charge drawn; hollow below full control.
    points: Vec<(f64, f64, bool)>,
}

/// Draws the figure; `None` below three bursts with electrical readings.
pub(crate) fn draw_energy(
    energy: &EnergyFinding,
    show: Show,
    width: Width,
) -> Result<Option<String>, FigureError> {
    if energy.points.len() < 3 {
        return Ok(None);
    }
    let charge = |p: &EnergyPoint| show.to_unit(Kind::Charge, p.drawn_a_s);
    let of = |f: &dyn Fn(&EnergyPoint) -> Option<f64>| -> Vec<(f64, f64, bool)> {
        energy
            .points
            .iter()
            .filter_map(|p| Some((charge(p), f(p)?, p.is_full)))
            .filter(|(x, y, _)| x.is_finite() && y.is_finite())
            .collect()
    };
    let one = |name, ink, mark, points| Series {
        name,
        ink,
        mark,
        points,
    };
    let panels = [
        Panel {
            title: "Power, W",
            from_zero: true,
            series: vec![
                one(
                    "from the battery",
                    SUPPLY,
                    Mark::Square,
                    of(&|p| Some(p.electric_w)),
                ),
                one(
                    "into the coating",
                    NOZZLE,
                    Mark::Disc,
                    of(&|p| Some(p.hydraulic_w)),
                ),
            ],
        },
        Panel {
            title: "Sag from stalled to spraying pressure, %",
            from_zero: true,
            series: vec![one(
                "",
                SERIES[3],
                Mark::Triangle,
                of(&|p| p.sag_ratio.map(|s| 100.0 * s)),
            )],
        },
        Panel {
            title: "Battery under load, V",
            from_zero: false,
            series: vec![one("", SERIES[2], Mark::Diamond, of(&|p| Some(p.supply_v)))],
        },
    ];
    let panels: Vec<&Panel> = panels
        .iter()
        .filter(|p| p.series.iter().any(|s| !s.points.is_empty()))
        .collect();
    let Some((low, high)) = range_of(energy.points.iter().map(charge)) else {
        return Ok(None);
    };
    let w = width.px();
    let (panel_px, gap_px) = if width.is_flat() {
        (FLAT_PANEL, FLAT_GAP)
    } else {
        (PANEL, GAP)
    };
    #[allow(clippy::cast_precision_loss)]
    let h = TOP + (panel_px + gap_px) * panels.len() as f64 + 8.0 + GAP - gap_px;
    let room = 0.04 * (high - low);
    let x = Axis::new((low - room).max(0.0), high + room, LEFT, w - RIGHT);
    draw(w, h, |canvas| {
        for (i, panel) in panels.iter().enumerate() {
            #[allow(clippy::cast_precision_loss)]
            let top = TOP + (panel_px + gap_px) * i as f64;
            let is_last = i + 1 == panels.len();
            paint(canvas, panel, &x, (top, top + panel_px), is_last);
        }
    })
    .map(Some)
}

fn paint(canvas: &mut Canvas, panel: &Panel, x: &Axis, (top, bottom): (f64, f64), is_last: bool) {
    let all = panel
        .series
        .iter()
        .flat_map(|s| s.points.iter().map(|p| p.1));
    let (low, high) = range_of(all).unwrap_or((0.0, 1.0));
    // Names of series stand above their marks.
    let share = if panel.series.len() > 1 { 0.35 } else { 0.12 };
    let room = share * (high - low).max(0.02 * high.abs());
    let low = if panel.from_zero {
        low.min(0.0)
    } else {
        low - room
    };
    let y = Axis::new(low, high + room, bottom, top);
    draw_y(canvas, &y, x.from, x.to);
    title_y(canvas, (x.from - LEFT, top - 16.0), panel.title);
    let title = if is_last {
        "Charge drawn since the battery was put in, Ah"
    } else {
        ""
    };
    let title = if canvas.width < 440.0 && is_last {
        "Charge drawn, Ah"
    } else {
        title
    };
    draw_x(canvas, x, y.from, y.to, title);
    for (i, s) in panel.series.iter().enumerate() {
        for (cx, cy, is_full) in &s.points {
            canvas.mark((x.px(*cx), y.px(*cy)), s.mark, 3.8, s.ink, *is_full);
        }
        label_series(canvas, s, i == 0, x, &y);
    }
}

/// The series' name on a strip of ground above its last points, or below them: the first series lies above the
/// second, and a strip between the two would cover marks.
fn label_series(canvas: &mut Canvas, s: &Series, is_above: bool, x: &Axis, y: &Axis) {
    if s.name.is_empty() {
        return;
    }
    let full: Vec<Px> = s
        .points
        .iter()
        .filter(|p| p.2)
        .map(|p| (x.px(p.0), y.px(p.1)))
        .collect();
    let tail = &full[full.len().saturating_sub(6)..];
    let Some((top, bottom)) = range_of(tail.iter().map(|p| p.1)) else {
        return;
    };
    let at = if is_above {
        (x.to - 4.0, (top - 14.0).max(y.to + 6.0))
    } else {
        (x.to - 4.0, (bottom + 14.0).min(y.from - 6.0))
    };
    let width = super::canvas::text_width(s.name, LABEL);
    canvas.rect(
        (at.0 - width * 0.85, at.1 - 8.0),
        (at.0 + 2.0, at.1 + 8.0),
        GROUND,
        0.85,
    );
    let set = Type {
        size: LABEL,
        is_bold: true,
        ink: TEXT,
    };
    canvas.text(at, s.name, Anchor::End, set);
}

/// A battery's supply curve as it is drawn beside another's.
pub(crate) struct SupplyLine<'a> {
    /// Which battery.
    pub(crate) name: &'static str,
    /// Flow and pressure of the bursts at full control, SI.
    pub(crate) points: Vec<(f64, f64)>,
    /// The curve.
    pub(crate) curve: &'a crate::analysis::supply_curve::SupplyCurve,
}

/// Pressure held against flow; `None` without a point.
pub(crate) fn draw_supply(
    lines: &[SupplyLine],
    rated_pa: Option<f64>,
    show: Show,
    width: Width,
) -> Result<Option<String>, FigureError> {
    let all = || lines.iter().flat_map(|l| l.points.iter().copied());
    let flow = |q: f64| show.to_unit(Kind::Flow, q);
    let pressure = |p: f64| show.to_unit(Kind::Pressure, p);
    let Some((_, q_high)) = range_of(all().map(|p| flow(p.0))) else {
        return Ok(None);
    };
    let stalled = lines
        .iter()
        .map(|l| crate::analysis::supply_curve::stalled_level(l.curve));
    let p_all = all()
        .map(|p| p.1)
        .chain(stalled)
        .chain(rated_pa)
        .map(pressure);
    let (_, p_high) = range_of(p_all).unwrap_or((0.0, 1.0));
    let (w, h) = (width.px(), 320.0);
    let x = Axis::new(0.0, q_high * 1.12, LEFT, w - RIGHT);
    let y = Axis::new(0.0, p_high * 1.1, h - 48.0, 36.0);
    draw(w, h, |canvas| {
        let title = format!("Pressure held, {}", show.symbol(Kind::Pressure));
        draw_y(canvas, &y, x.from, x.to);
        title_y(canvas, (x.from - LEFT, y.to - 18.0), &title);
        let title = format!("Flow, {}", show.symbol(Kind::Flow));
        draw_x(canvas, &x, y.from, y.to, &title);
        if let Some(pa) = rated_pa {
            paint_rating(canvas, &x, y.px(pressure(pa)));
        }
        for (i, line) in lines.iter().enumerate() {
            let (ink, mark) = [(SUPPLY, Mark::Square), (NOZZLE, Mark::Disc)][i % 2];
            let path: Vec<Px> = super::curves::steps(0.0, x.high * show.units.flow.in_m3_per_s())
                .into_iter()
                .map_while(|q| line.curve.pressure_at(q).map(|(p, _)| (q, p)))
                .map(|(q, p)| (x.px(flow(q)), y.px(pressure(p))))
                .collect();
            if i == 0 {
                canvas.line(&path, ink, 2.4);
            } else {
                // Two batteries of one pump often lie on one line.
                canvas.dashed(&path, ink, 2.4, 7.0, 6.0);
            }
            for (q, p) in &line.points {
                canvas.mark((x.px(flow(*q)), y.px(pressure(*p))), mark, 3.8, ink, true);
            }
            if lines.len() > 1 {
                legend(
                    canvas,
                    line.name,
                    (
                        x.from + 14.0,
                        y.from - 34.0 + 18.0 * f64::from(u8::from(i > 0)),
                    ),
                    (ink, mark),
                );
            }
        }
    })
    .map(Some)
}

fn paint_rating(canvas: &mut Canvas, x: &Axis, y: f64) {
    canvas.dashed(
        &[(x.from, y), (x.to, y)],
        super::palette::LIMIT,
        1.6,
        6.0,
        4.0,
    );
    let set = Type {
        size: LABEL,
        is_bold: false,
        ink: super::palette::LIMIT,
    };
    canvas.text((x.to, y - 9.0), "lowest rating", Anchor::End, set);
}

fn legend(canvas: &mut Canvas, name: &str, at: Px, (ink, mark): (Ink, Mark)) {
    canvas.mark(at, mark, 4.4, ink, true);
    let set = Type {
        size: LABEL,
        is_bold: true,
        ink: TEXT,
    };
    canvas.text((at.0 + 11.0, at.1), name, Anchor::Start, set);
}
