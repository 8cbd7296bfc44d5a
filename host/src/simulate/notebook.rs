//! The notebook: what the person writes down, when, and by which clock.
//!
//! Grades come from the true pressure before the opening against the one that clears, blurred by the
//! person's eye; runs and comb readings from the film, blurred by the hand. Cells are left out, rows
//! written late, and times given as that person gives them.

use crate::recording::notes::{Note, NoteTime};

use super::fan::{clear_tip_pa, tail_grade};
use super::performance::{Occasion, Performance, Pulled};
use super::random::{Part, RandomStream};
use super::scenario::{PullKind, Scenario, Setting, TimeStyle};

/// Teeth of the wet film comb are this far apart, m.
const COMB_STEP_M: f64 = 25.0e-6;

/// A written row and what it truly describes.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenNote {
    /// The row.
    pub note: Note,
    /// The burst that it describes, position among all pulls.
    pub burst: Option<usize>,
    /// True time at which it was written, s.
    pub written_s: f64,
}

/// Writes the notes of a performance, in the order of the file.
#[must_use]
pub fn write_notes(scenario: &Scenario, performance: &Performance) -> Vec<WrittenNote> {
    let mut random = RandomStream::new(scenario.seed, Part::Operator);
    let mut stated: Option<Setting> = None;
    let mut last_s = 0.0f64;
    let times_s = writing_times(scenario, performance, &mut random);
    performance
        .occasions
        .iter()
        .zip(times_s)
        .enumerate()
        .map(|(row, (occasion, at_s))| {
            last_s = last_s.max(at_s);
            let mut note = Note {
                line: row + 2,
                time: write_time(scenario, last_s, &mut random),
                event: filled(occasion.event),
                text: filled(occasion.text),
                ..Note::default()
            };
            if occasion.states_setting {
                write_setting(scenario, occasion, &mut stated, &mut note);
            }
            if let Some(pulled) = occasion.burst.map(|b| &performance.pulls[b]) {
                observe(scenario, pulled, &mut note, &mut random);
            }
            WrittenNote {
                note,
                burst: occasion.burst,
                written_s: last_s,
            }
        })
        .collect()
}

fn filled(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| text.to_owned())
}

/// True times at which the rows are written: after what they describe and, unless put off until the
/// next row, before the next pull.
fn writing_times(
    scenario: &Scenario,
    performance: &Performance,
    random: &mut RandomStream,
) -> Vec<f64> {
    let person = &scenario.person;
    let mut times_s: Vec<f64> = performance
        .occasions
        .iter()
        .map(|occasion| {
            let (least_s, most_s) = person.delay_s;
            let delay_s = if occasion.burst.is_some() {
                random.uniform(least_s, most_s)
            } else {
                random.uniform(0.0, 1.0)
            };
            let next_pull_s = performance
                .pulls
                .iter()
                .map(|pulled| pulled.start_s)
                .find(|start_s| *start_s > occasion.at_s)
                .unwrap_or(f64::INFINITY);
            (occasion.at_s + delay_s).min((next_pull_s - 0.3).max(occasion.at_s))
        })
        .collect();
    for row in (0..times_s.len().saturating_sub(1)).rev() {
        let both = [row, row + 1].map(|r| performance.occasions[r].burst.is_some());
        if both == [true, true] && random.chance(person.late_ratio) {
            times_s[row] = times_s[row + 1];
        }
    }
    times_s
}

/// A true time as this person writes it.
fn write_time(scenario: &Scenario, true_s: f64, random: &mut RandomStream) -> NoteTime {
    let unix_s = scenario.start.unix_s + true_s + scenario.person.watch_offset_s;
    let since_midnight_s = (unix_s + scenario.start.utc_offset_s).rem_euclid(86_400.0);
    let style = match scenario.person.style {
        TimeStyle::Mixed => random.pick(&[
            TimeStyle::Seconds,
            TimeStyle::Minutes,
            TimeStyle::Minutes,
            TimeStyle::LoggerSeconds,
            TimeStyle::Empty,
            TimeStyle::Empty,
            TimeStyle::About,
        ]),
        style => style,
    };
    match style {
        TimeStyle::Seconds => NoteTime::Clock {
            since_midnight_s: since_midnight_s.floor(),
            resolution_s: 1.0,
        },
        TimeStyle::Minutes => NoteTime::Clock {
            since_midnight_s: (since_midnight_s / 60.0).floor() * 60.0,
            resolution_s: 60.0,
        },
        TimeStyle::About => NoteTime::About {
            since_midnight_s: ((since_midnight_s + random.normal(45.0)) / 60.0).round() * 60.0,
        },
        TimeStyle::Rfc3339 => NoteTime::Absolute {
            unix_s: unix_s.floor(),
            resolution_s: 1.0,
        },
        TimeStyle::LoggerSeconds => NoteTime::Logger {
            t_s: (scenario.logger_time_s(true_s) * 10.0).round() / 10.0,
        },
        TimeStyle::Empty | TimeStyle::Mixed => NoteTime::OrderedOnly,
    }
}

/// Writes tip, coating, thinner and dial, all of them or those that changed since they were stated.
fn write_setting(
    scenario: &Scenario,
    occasion: &Occasion,
    stated: &mut Option<Setting>,
    note: &mut Note,
) {
    let now = occasion.setting;
    let person = &scenario.person;
    let before = stated.replace(now).filter(|_| !person.repeats_setting);
    let is_new = |same: fn(&Setting, &Setting) -> bool| !before.is_some_and(|b| same(&b, &now));
    let tip = &scenario.tips[now.tip];
    if is_new(|a, b| a.tip == b.tip) {
        note.tip = Some(tip.code.clone());
        note.tip_family = Some(tip.family.clone());
    }
    if is_new(|a, b| a.liquid == b.liquid) {
        note.material = Some(scenario.liquids[now.liquid].name.clone());
    }
    if is_new(|a, b| a.liquid == b.liquid && a.thinner_ratio == b.thinner_ratio) {
        note.thinner_ratio = Some(now.thinner_ratio);
    }
    if person.writes_dial && is_new(|a, b| a.mark == b.mark) {
        note.dial = Some(scenario.dial(now.mark).to_owned());
    }
    if before.is_none() {
        note.strained = Some(person.strained);
    }
}

/// What the person saw of a burst.
fn observe(scenario: &Scenario, pulled: &Pulled, note: &mut Note, random: &mut RandomStream) {
    if pulled.kind != PullKind::Spray {
        return;
    }
    let person = &scenario.person;
    let width_m = scenario.tips[pulled.setting.tip].fan_width_m;
    let path = &pulled.path;
    let tip_pa = path.at_tap(scenario.rig.tap, pulled.tap_pa).tip_pa;
    let clears_pa = clear_tip_pa(&path.state, &path.orifice, width_m);
    let seen = tip_pa / clears_pa * random.normal(person.grader_spread).exp();
    let film_m = scenario.pass.wet_film_m(pulled.flow_m3_per_s, width_m)
        * random.normal(person.film_spread).exp();
    note.tails = Some(tail_grade(seen));
    note.runs = Some(film_m > path.state.standing_film_m());
    if random.chance(person.comb_ratio) {
        // The reading is the longest tooth that is wet.
        note.comb_m = Some((film_m / COMB_STEP_M).floor() * COMB_STEP_M);
    }
    if random.chance(person.catch_ratio) {
        let caught_s = random.uniform(0.6, 0.95) * (pulled.end_s - pulled.start_s);
        let caught_kg = pulled.flow_m3_per_s * path.state.density_kg_per_m3 * caught_s;
        // A kitchen balance shows grams, a thumb stops the clock to a tenth of a second.
        note.catch_kg = Some((caught_kg * 1e3 + random.normal(0.7)).round().max(0.0) / 1e3);
        note.catch_s = Some(((caught_s + random.normal(0.1)) * 10.0).round() / 10.0);
    }
    if random.chance(0.12) && !person.remarks.is_empty() {
        note.text = filled(random.pick(person.remarks));
    }
    if random.chance(person.blank_ratio) {
        if random.chance(0.3) {
            note.tails = None;
        } else {
            note.runs = None;
        }
    }
}
