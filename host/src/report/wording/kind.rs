//! Verdict kinds: name, state, headline and the sentence that says why.

use super::super::number::Kind;
use super::super::piece::{Sentence, say};
use super::Subject;
use crate::analysis::verdict::VerdictKind;
use crate::analysis::window::UpperLimit;

/// What a verdict asks of the reader, told by word and shape, never by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// Spray.
    Open,
    /// The setting is at a limit: change tip, coating or hand.
    Limit,
    /// Something on the rig needs hands.
    Repair,
    /// Not known yet.
    Unknown,
}

impl State {
    /// The word beside the shape.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Open => "Window open",
            Self::Limit => "At a limit",
            Self::Repair => "Fix first",
            Self::Unknown => "Not known yet",
        }
    }
}

/// The state of a verdict.
pub(crate) const fn state(kind: VerdictKind) -> State {
    match kind {
        VerdictKind::HealthyWindow => State::Open,
        VerdictKind::AtomisationLimit
        | VerdictKind::SupplyLimit
        | VerdictKind::ApplicationLimit
        | VerdictKind::ColdMaterial => State::Limit,
        VerdictKind::RestrictionTip
        | VerdictKind::RestrictionInlet
        | VerdictKind::WeakBattery
        | VerdictKind::WornTip => State::Repair,
        VerdictKind::InsufficientData | VerdictKind::Undetermined => State::Unknown,
    }
}

/// The name of a verdict kind.
pub(crate) const fn kind_name(kind: VerdictKind) -> &'static str {
    match kind {
        VerdictKind::HealthyWindow => "working window open",
        VerdictKind::AtomisationLimit => "atomisation limit",
        VerdictKind::SupplyLimit => "supply limit",
        VerdictKind::RestrictionTip => "restriction at tip or gun filter",
        VerdictKind::RestrictionInlet => "restriction at inlet or pump",
        VerdictKind::WeakBattery => "weak battery",
        VerdictKind::WornTip => "worn tip",
        VerdictKind::ApplicationLimit => "application limit",
        VerdictKind::ColdMaterial => "cold coating",
        VerdictKind::InsufficientData => "not enough data",
        VerdictKind::Undetermined => "undetermined",
    }
}

/// The answer in one line.
pub(crate) fn headline(s: &Subject) -> Sentence {
    match s.verdict.kind {
        VerdictKind::HealthyWindow => s.recommended().map_or_else(
            || Sentence::from("The fan comes out even and the rig holds it"),
            |set| say!["Set ", set],
        ),
        VerdictKind::AtomisationLimit => {
            Sentence::from("Full pressure does not clear the tails: too thick for this tip")
        }
        VerdictKind::SupplyLimit => {
            Sentence::from("The pump cannot feed this tip: pressure sags and the tails stay")
        }
        VerdictKind::RestrictionTip => Sentence::from("Something blocks the tip or the gun filter"),
        VerdictKind::RestrictionInlet => {
            Sentence::from("The pump is starved or tired; the tip is not the cause")
        }
        VerdictKind::WeakBattery => Sentence::from("The battery is running down"),
        VerdictKind::WornTip => say![capital(s.tip()), " is worn"],
        VerdictKind::ApplicationLimit => {
            Sentence::from("The fan is even but the coat runs: too much goes on")
        }
        VerdictKind::ColdMaterial => {
            Sentence::from("The coating is cold: that explains the change")
        }
        VerdictKind::InsufficientData => Sentence::from("This recording cannot give an answer yet"),
        VerdictKind::Undetermined => {
            Sentence::from("More than one answer fits; one more trial tells them apart")
        }
    }
}

/// What it means, in one or two sentences.
pub(crate) fn why(s: &Subject) -> Sentence {
    match s.verdict.kind {
        VerdictKind::HealthyWindow => why_open(s),
        VerdictKind::AtomisationLimit => Sentence::from(
            "The rig holds its pressure, so a bigger pump would not help. The coating does not break up \
             fine enough at this orifice. Make it thinner or warmer, or let it through a larger orifice.",
        ),
        VerdictKind::SupplyLimit => Sentence::from(
            "The tip lets more through than the pump can keep under pressure. The pressure it would \
             need is lost while you spray. A smaller orifice asks less of the pump.",
        ),
        VerdictKind::RestrictionTip => Sentence::from(
            "At the same pressure less comes through than earlier with the same tip and coating. The pump is \
             not the cause: turning it up only packs the blockage.",
        ),
        VerdictKind::RestrictionInlet => Sentence::from(
            "The rig holds less pressure than earlier at the same control position, while the tip lets through \
             what it did before. Look at the inlet strainer, the suction side and the pump.",
        ),
        VerdictKind::WeakBattery => Sentence::from(
            "The pressure it holds fell together with the battery's voltage. Tip and coating are not \
             the cause.",
        ),
        VerdictKind::WornTip => Sentence::from(
            "At the same pressure more comes through than a sound tip of this code lets through. A worn tip \
             loads the pump, narrows the fan and brings the tails back.",
        ),
        VerdictKind::ApplicationLimit => Sentence::from(
            "There are no tails left to cure. The film is thicker than the surface holds: the hand, the \
             orifice or the fan must change, not the pressure.",
        ),
        VerdictKind::ColdMaterial => Sentence::from(
            "Between the two states of this setting the coating's temperature changed, and a colder coating is \
             thicker. Nothing on the rig needs fixing before the coating is as warm as it was.",
        ),
        VerdictKind::InsufficientData => Sentence::from(
            "A guess would be worse than none. The measurement named below is what is missing.",
        ),
        VerdictKind::Undetermined => Sentence::from(
            "The numbers lie too close to a limit to choose, and the answers ask for different changes.",
        ),
    }
}

fn why_open(s: &Subject) -> Sentence {
    let Some(window) = &s.group.window else {
        return Sentence::from("The fan is even and the rig holds the pressure it needs.");
    };
    let mut out = match window.lower_pa.filter(|pa| pa.is_finite()) {
        Some(pa) => {
            let half = window
                .lower_interval_pa
                .map_or(0.0, |i| 0.5 * (i.high - i.low));
            let key = s.group_key("window/lower_pa");
            let low = s.show.rounded(Kind::Pressure, pa, half, key);
            say!["Tails are gone from about ", low, ". "]
        }
        None => Sentence::from("No tails were seen at any pressure that was tried. "),
    };
    let end = s.show.setting(
        window.upper_pa,
        Some(window.upper_pa),
        s.group_key("window/upper_pa"),
    );
    out.push(match window.upper_limit {
        UpperLimit::Supply => say!["The rig holds ", end, " with this tip"],
        UpperLimit::SupplyComputed => say![
            "The rig would hold ",
            end,
            " with this tip, computed from what it held with others"
        ],
        UpperLimit::WorkingPressure => say!["The lowest rating is ", end],
        UpperLimit::CoatingLimit => say!["The coating's maker allows ", end],
        UpperLimit::Runs => say!["The coat begins to run at ", end],
        UpperLimit::HighestTried => say![
            "It was tried up to ",
            end,
            "; how much more the rig holds is not known"
        ],
    });
    out.push(". More pressure than needed only makes overspray and wear.");
    out
}

/// A sentence whose first word begins with a capital.
fn capital(mut sentence: Sentence) -> Sentence {
    use super::super::piece::Piece;
    if let Some(Piece::Text(text)) = sentence.0.first_mut() {
        *text = super::capitalised(text);
    }
    sentence
}
