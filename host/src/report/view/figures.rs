//! Figures with title, caption and description.

use crate::processors::on_all_processors;
use crate::report::Options;
use crate::report::card_data::{StripeLine, slug, stripes};
use crate::report::figure::{
    FigureError, Source, Width, draw_curves, draw_energy, draw_moved, draw_stripes, draw_tails,
    draw_trace, draw_window,
};
use crate::report::number::{Kind, Show};
use crate::report::piece::{Sentence, say};
use crate::report::wording::count;

/// A figure in its sizes.
pub(crate) struct FigureView {
    /// Anchor.
    pub(crate) id: String,
    /// File name under `figures/`.
    pub(crate) file: String,
    /// Heading.
    pub(crate) title: &'static str,
    /// How to read it.
    pub(crate) caption: Sentence,
    /// What it shows, for a reader who cannot see it.
    pub(crate) description: String,
    /// SVG for page and paper.
    pub(crate) wide: String,
    /// SVG for a phone.
    pub(crate) narrow: String,
    /// SVG for half a sheet of paper, where the one for the page would waste it.
    pub(crate) paper: Option<String>,
}

struct Words {
    id: String,
    file: String,
    title: &'static str,
    caption: Sentence,
    description: String,
}

fn both(
    words: Words,
    wide: Width,
    draw: impl Fn(Width) -> Result<Option<String>, FigureError> + Sync,
) -> Result<Option<FigureView>, FigureError> {
    // Paper has its own only where the one for the page would waste it.
    let widths = [wide, Width::Narrow, Width::Paper];
    let widths = &widths[..if wide == Width::Wide { 3 } else { 2 }];
    let mut drawn = on_all_processors(widths, |width| draw(*width)).into_iter();
    let mut next = || drawn.next().transpose().map(Option::flatten);
    let (Some(large), Some(small), paper) = (next()?, next()?, next()?) else {
        return Ok(None);
    };
    Ok(Some(FigureView {
        id: words.id,
        file: words.file,
        title: words.title,
        caption: words.caption,
        description: words.description,
        wide: large,
        narrow: small,
        paper,
    }))
}

/// Figures of the whole recording.
pub(super) fn figures(source: Source, options: &Options) -> Result<Vec<FigureView>, FigureError> {
    let list = [
        both(curves_words(source), Width::Wide, |w| {
            draw_curves(source, w)
        })?,
        both(tails_words(source), Width::Wide, |w| draw_tails(source, w))?,
        energy_figure(source)?,
        stripes_figure(source, options)?,
        both(trace_words(source), Width::Wide, |w| draw_trace(source, w))?,
    ];
    Ok(list.into_iter().flatten().collect())
}

/// How even a coat lies, where a setting with a card is there to be sprayed with.
fn stripes_figure(source: Source, options: &Options) -> Result<Option<FigureView>, FigureError> {
    let list = stripes(source.findings, options);
    let words = Words {
        id: "stripes".to_owned(),
        file: "stripes.svg".to_owned(),
        title: "How even one coat lies",
        caption: say![
            "Not measured: wet film across parallel passes, from a fan that is even in the middle and falls off \
             over a fifth of its width at either side (common practice, no source). Dips are thin stripes, humps \
             are where passes lie on each other: ",
            heights(&list, source.show),
            " of its mean. Tails make it worse. One stripe on scrap, wet film comb across it, tells what your fan \
             does."
        ],
        description: "Film across the passes in percent of its mean, one line an overlap, by an assumed fan. It \
                      repeats from pass to pass."
            .to_owned(),
    };
    both(words, Width::Wide, |w| draw_stripes(&list, source.show, w))
}

/// Thinnest to thickest place at each overlap.
fn heights(list: &[StripeLine], show: Show) -> Sentence {
    let mut out = Sentence::default();
    for (i, line) in list.iter().enumerate() {
        let key = |name: &str| format!("/stripes/{i}/{name}");
        let ends = (line.stripes.least_ratio, line.stripes.greatest_ratio);
        if i > 0 {
            out.push(", ");
        }
        out.push("at ");
        out.push(show.plain(Kind::Percent, line.overlap_ratio, key("overlap_ratio")));
        out.push(" overlap ");
        out.push(show.fixed(Kind::Percent, ends.0, 0, key("least_film_ratio")));
        out.push(" to ");
        out.push(show.fixed(Kind::Percent, ends.1, 0, key("greatest_film_ratio")));
    }
    out
}

/// How to read the figure of power and charge.
pub(crate) const ENERGY_CAPTION: &str = "One mark a burst; hollow: below full control. Above: power taken from the battery and power that \
     reached the coating; the distance is lost in motor, gear and pump. Middle: how far the pressure falls when \
     the trigger opens. Below: battery voltage while spraying.";

/// Power and charge, on a rig with a battery.
fn energy_figure(source: Source) -> Result<Option<FigureView>, FigureError> {
    let Some(energy) = &source.findings.energy else {
        return Ok(None);
    };
    if source.findings.settings.limits.battery_v.is_none() {
        return Ok(None);
    }
    let words = Words {
        id: "energy".to_owned(),
        file: "energy.svg".to_owned(),
        title: "As the battery empties",
        caption: Sentence::from(ENERGY_CAPTION),
        description: format!(
            "Power, sag and battery voltage of {} bursts against the charge drawn. The bursts stand in their table.",
            energy.points.len()
        ),
    };
    both(words, Width::Wide, |w| draw_energy(energy, source.show, w))
}

fn curves_words(source: Source) -> Words {
    let f = source.findings;
    let n = f.groups.iter().filter(|g| g.curve.is_ok()).count();
    Words {
        id: "curves".to_owned(),
        file: "nozzle-curves.svg".to_owned(),
        title: "What each tip passes at a pressure",
        caption: say![
            "Nozzle curves. Each mark is one burst with its bars of 95 % from noise; the shaded band is where one \
             more burst is expected. Dashed: outside the measured pressures. Hollow: an earlier state. Crossed \
             out: named as an outlier and not used."
        ],
        description: format!(
            "Flow against spraying pressure for {} settings, {n} of them with a fitted curve. The numbers stand \
             in the table of settings.",
            f.groups.len()
        ),
    }
}

fn tails_words(source: Source) -> Words {
    let graded: usize = source.findings.groups.iter().map(|g| g.grades.len()).sum();
    Words {
        id: "tails".to_owned(),
        file: "tails.svg".to_owned(),
        title: "Where the tails go",
        caption: Sentence::from(
            "Tail grades against pressure. A ring: no tails. One, two, three strokes: faint, clear, heavy. \
             Shaded: the 95 % interval of the lowest tail-free pressure; line: its best value; bracket \
             below: highest pressure with tails to lowest without. Arrow: the pressure to set.",
        ),
        description: format!(
            "Tail grades of {graded} bursts against pressure, one row a setting. The numbers stand in the table \
             of settings."
        ),
    }
}

fn trace_words(source: Source) -> Words {
    let f = source.findings;
    let used = f
        .bursts
        .iter()
        .filter(|b| b.steady.exclusion.is_none())
        .count();
    Words {
        id: "trace".to_owned(),
        file: "trace.svg".to_owned(),
        title: "What was recorded",
        caption: say![
            "Pressure above, flow below. Shaded: trigger open, with the number of the burst. Thick line: the \
             steady part that was measured (dotted: not used). Tails between: ring none, one to three strokes faint \
             to heavy; a dark arrow under them: the coat ran. ",
            count(source.show, used, "/recording/n_bursts_used"),
            " of ",
            count(source.show, f.bursts.len(), "/recording/n_bursts"),
            " bursts are used."
        ],
        description: format!(
            "Pressure and flow against time with {} bursts, {used} of them used. The numbers stand in the table \
             of bursts.",
            f.bursts.len()
        ),
    }
}

/// Window of one verdict's group.
pub(super) fn window_figure(
    source: Source,
    verdict_index: usize,
    group_index: usize,
) -> Result<Option<FigureView>, FigureError> {
    let tip = &source.findings.groups[group_index].group.tip;
    let number = verdict_index + 1;
    let words = Words {
        id: format!("window-{number}"),
        file: format!("window-{number}{}.svg", slug(tip)),
        title: "Working window",
        caption: Sentence::from(
            "From where the tails are gone to what the rig holds. Bars on the rail: 95 % intervals. Diamond: where \
             the supply curve meets the nozzle curve.",
        ),
        description: "Nozzle curve and supply curve on one pressure axis with the working window between the \
                      lowest tail-free pressure and its upper end. The numbers stand beside it."
            .to_owned(),
    };
    both(words, Width::Half, |w| draw_window(source, group_index, w))
}

/// Which curve moved, for a group with an earlier state or a supply that fell.
pub(super) fn moved_figure(
    source: Source,
    verdict_index: usize,
    group_index: usize,
) -> Result<Option<FigureView>, FigureError> {
    let tip = &source.findings.groups[group_index].group.tip;
    let number = verdict_index + 1;
    let words = Words {
        id: format!("moved-{number}"),
        file: format!("moved-{number}{}.svg", slug(tip)),
        title: "Which curve moved",
        caption: Sentence::from(
            "A blocked or worn tip moves the nozzle curve; a starved inlet, a tired pump or a weak battery moves \
             the pressure held at full control.",
        ),
        description: "Left: nozzle curve before and after. Right: pressure held at full control against time, \
                      one mark a burst."
            .to_owned(),
    };
    both(words, Width::Wide, |w| draw_moved(source, group_index, w))
}
