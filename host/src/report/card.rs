//! Setting cards: one page to pin up for each tip and coating with an open window.

use maud::{DOCTYPE, Markup, html};

use super::card_data::CardData;
use super::cautions::SHORT;
use super::html::{caution, head, sentence, style_card};
use super::number::{Kind, Show};
use super::piece::{Sentence, quoted, say};
use super::view::setting_name;
use super::{Options, ReportError, ReportFile};
use crate::estimate::Estimate;
use crate::findings::{Findings, GroupFinding};
use crate::units::UnitChoice;

/// Cards of all open windows.
pub(crate) fn cards(
    f: &Findings,
    units: UnitChoice,
    options: &Options,
) -> Result<Vec<ReportFile>, ReportError> {
    let show = Show { units };
    let mut out = Vec::new();
    for v in &f.verdicts {
        let Some(card) = CardData::new(f, v.group_index, options) else {
            continue;
        };
        let group = &f.groups[v.group_index];
        out.push(ReportFile {
            name: card.file_name(&group.group.tip),
            text: page(f, show, group, &card, options).into_string(),
        });
    }
    Ok(out)
}

/// True for a name that [`cards`] may have given.
pub(crate) fn is_card_name(name: &str) -> bool {
    name.starts_with("card-") && name.ends_with(".html") && !name.contains(['/', '\\'])
}

/// Everything that the lines of a card need.
struct Lines<'a> {
    f: &'a Findings,
    show: Show,
    group: &'a GroupFinding,
    card: &'a CardData,
    options: &'a Options,
}

impl Lines<'_> {
    fn key(&self, member: &str) -> String {
        format!("/groups/{}/{member}", self.card.group_index)
    }

    fn estimate(&self, kind: Kind, e: &Estimate, member: &str) -> Sentence {
        self.show.estimate(kind, e, &self.key(member))
    }

    fn set(&self) -> Sentence {
        let most = self.group.window.map(|w| w.upper_pa);
        self.show.setting(
            self.card.recommended_pa,
            most,
            self.key("window/recommended_pa"),
        )
    }

    /// Names and values in the order in which a hand needs them; what is not known is left out.
    fn all(&self) -> Vec<(&'static str, Sentence)> {
        let mut out = self.pressure_lines();
        out.extend(self.coating_lines());
        out.extend(self.film_lines());
        out
    }

    fn pressure_lines(&self) -> Vec<(&'static str, Sentence)> {
        let show = self.show;
        let mut out = Vec::new();
        if let Some(margin) = self.card.margin_pa {
            out.push((
                "Margin above the tails",
                show.setting(margin, None, self.key("card/margin_pa")),
            ));
        }
        if let Some(w) = &self.group.window {
            out.push((
                "Never above",
                show.setting(w.upper_pa, Some(w.upper_pa), self.key("window/upper_pa")),
            ));
        }
        if let Some(dial) = &self.card.dial {
            let mut line = say![quoted(dial)];
            if let Some((i, p)) = self
                .card
                .nearest_burst
                .and_then(|i| Some((i, self.f.bursts.get(i)?.steady.pressure_pa?)))
            {
                let gave = show.setting(p.value, None, format!("/bursts/{i}/pressure_pa/value"));
                line.push(say![" gave ", gave, " while spraying"]);
            }
            out.push(("Nearest control position", line));
        }
        out
    }

    fn coating_lines(&self) -> Vec<(&'static str, Sentence)> {
        let show = self.show;
        let group = &self.group.group;
        let mut out = vec![(
            "Thinner",
            if group.thinner_ratio > 0.0 {
                say![
                    show.plain(
                        Kind::Percent,
                        group.thinner_ratio,
                        self.key("thinner_ratio")
                    ),
                    " by volume of coating"
                ]
            } else {
                Sentence::from("none")
            },
        )];
        if let Some(k) = self.card.material_k {
            out.push((
                "Coating temperature",
                say![
                    show.fixed(Kind::Temperature, k.low, 0, self.key("card/material_low_k")),
                    " to ",
                    show.fixed(
                        Kind::Temperature,
                        k.high,
                        0,
                        self.key("card/material_high_k")
                    )
                ],
            ));
        }
        out
    }

    fn film_lines(&self) -> Vec<(&'static str, Sentence)> {
        let show = self.show;
        let mut out = Vec::new();
        if let Some(flow) = &self.card.flow_m3_per_s {
            out.push((
                "Flow to expect",
                self.estimate(Kind::Flow, flow, "flow_at_recommended_m3_per_s"),
            ));
        }
        if let Some(wet) = &self.card.wet_film_m {
            let speed = show.plain(
                Kind::Speed,
                self.options.hand_speed_m_per_s,
                "/rules/card_hand_speed_m_per_s",
            );
            let overlap = show.plain(
                Kind::Percent,
                self.options.overlap_ratio,
                "/rules/card_overlap_ratio",
            );
            out.push((
                "Wet film of one coat",
                say![
                    self.estimate(Kind::Film, wet, "card/wet_film_m"),
                    " at ",
                    speed,
                    " of hand speed and ",
                    overlap,
                    " overlap"
                ],
            ));
        }
        if let Some(dry) = &self.card.dry_film_m {
            out.push((
                "Dry film of it",
                self.estimate(Kind::Film, dry, "card/dry_film_m"),
            ));
        }
        out
    }
}

fn page(
    f: &Findings,
    show: Show,
    group: &GroupFinding,
    card: &CardData,
    options: &Options,
) -> Markup {
    let lines = Lines {
        f,
        show,
        group,
        card,
        options,
    };
    let name = setting_name(f, show, card.group_index);
    html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Setting card {}", group.group.tip), style_card()))
            body {
                main {
                    @if f.is_simulated { p.notice { strong { "Simulated data. " } "Not for a real rig." } }
                    p.kicker { "Setting card" }
                    h1 { (sentence(&name)) }
                    p.set { (sentence(&say!["Set ", lines.set()])) }
                    dl { @for (name, value) in lines.all() { div { dt { (name) } dd { (sentence(&value)) } } } }
                    p.valid { (sentence(&valid(f))) }
                    (caution(SHORT))
                    p.origin {
                        "From recording " (sentence(&quoted(&f.name).into()))
                        @if let Some(date) = &f.settings.date { ", " (sentence(&quoted(date).into())) }
                        @if let Some(rig) = &f.settings.rig { ", " (sentence(&quoted(rig).into())) }
                        ", by tipcurve. Valid for this rig only."
                    }
                }
            }
        }
    }
}

/// Until when the card holds: until something changes that the numbers rest on.
fn valid(f: &Findings) -> Sentence {
    let mut out = Sentence::from(
        "Valid until the tip, the coating's batch, the thinner or the rig changes, or the coating leaves its \
         temperature. On each new day spray one stripe on scrap first: both edges must fade out evenly.",
    );
    if f.settings.limits.working_pressure_pa.is_none() {
        out.push(" The lowest rating of pump, hose, gun and fittings is not known to this card: look it up and stay below it.");
    }
    if f.signal.flow_meter.is_nominal {
        out.push(" Flow and film rest on a meter that was never calibrated.");
    }
    out
}
