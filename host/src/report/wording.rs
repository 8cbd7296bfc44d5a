//! Verdicts, advice, evidence, refusals and defects as plain sentences that a painter understands.
//!
//! One file a vocabulary. Each match is exhaustive, so that a new word of the analysis cannot be
//! forgotten; open codes (evidence, reasons) have a fallback that still reads. No markup, no decision.

mod advice;
mod evidence;
mod exclusion;
mod kind;
mod reason;
mod time;
mod trial;

pub(crate) use advice::{advise, advise_against};
pub(crate) use evidence::evidence;
pub(crate) use exclusion::{count, defect_magnitude, defect_name, exclusion};
pub(crate) use kind::{State, headline, kind_name, state, why};
pub(crate) use reason::{because, refusal};
pub(crate) use time::note_time;
pub(crate) use trial::next_trial;

use super::number::{Kind, Show};
use super::piece::{Sentence, quoted, say};
use crate::analysis::verdict::Verdict;
use crate::findings::{Findings, GroupFinding};
use crate::recording::settings::Material;

/// One verdict with everything that its sentences may name.
#[derive(Clone, Copy)]
pub(crate) struct Subject<'a> {
    /// Everything found.
    pub(crate) findings: &'a Findings,
    /// The reader's units.
    pub(crate) show: Show,
    /// Index of the verdict.
    pub(crate) verdict_index: usize,
    /// The verdict.
    pub(crate) verdict: &'a Verdict,
    /// Its group.
    pub(crate) group: &'a GroupFinding,
}

impl<'a> Subject<'a> {
    /// The verdict with its group; `None` when the verdict names a group that is not there.
    pub(crate) fn new(findings: &'a Findings, show: Show, verdict_index: usize) -> Option<Self> {
        let verdict = findings.verdicts.get(verdict_index)?;
        Some(Self {
            findings,
            show,
            verdict_index,
            verdict,
            group: findings.groups.get(verdict.group_index)?,
        })
    }

    /// JSON pointer to a member of its group.
    pub(crate) fn group_key(&self, member: &str) -> String {
        format!("/groups/{}/{member}", self.verdict.group_index)
    }

    /// JSON pointer to a member of the verdict.
    pub(crate) fn key(&self, member: &str) -> String {
        format!("/verdicts/{}/{member}", self.verdict_index)
    }

    /// The coating's place in the settings and what they say of it.
    pub(crate) fn material(&self) -> Option<(usize, &'a Material)> {
        self.findings
            .settings
            .materials
            .iter()
            .enumerate()
            .find(|(_, m)| m.name == self.group.group.material)
    }

    /// Pressure to set, as a sentence, where the window gives one.
    pub(crate) fn recommended(&self) -> Option<Sentence> {
        let window = self.group.window.as_ref()?;
        let pa = window.recommended_pa.filter(|pa| pa.is_finite())?;
        Some(self.show.setting(
            pa,
            Some(window.upper_pa),
            self.group_key("window/recommended_pa"),
        ))
    }

    /// Lowest rated working pressure, as a sentence, where the settings give it.
    pub(crate) fn rating(&self) -> Option<Sentence> {
        let pa = self.findings.settings.limits.working_pressure_pa?;
        Some(
            self.show
                .plain(Kind::Pressure, pa, "/recording/limits/working_pressure_pa"),
        )
    }

    /// "tip 415", or "the tip" where no note says which.
    pub(crate) fn tip(&self) -> Sentence {
        match self.group.group.tip.as_str() {
            "" => Sentence::from("the tip"),
            code => say!["tip ", quoted(code)],
        }
    }
}

/// A stable code as words: underscores to spaces, unit suffixes left out.
pub(crate) fn humanise(code: &str) -> String {
    let stem = [
        "_m3_per_s",
        "_ratio",
        "_probability",
        "_pa",
        "_hz",
        "_k",
        "_v",
        "_a",
        "_w",
        "_s",
    ]
    .iter()
    .find_map(|suffix| code.strip_suffix(suffix))
    .unwrap_or(code);
    stem.replace('_', " ")
}

/// The first letter in upper case.
pub(crate) fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// Name of a tail grade.
pub(crate) const fn tail_grade(tails: u8) -> &'static str {
    match tails {
        0 => "none",
        1 => "faint",
        2 => "clear",
        _ => "heavy",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_without_a_sentence_of_their_own_still_read() {
        assert_eq!(humanise("crossing_pressure_pa"), "crossing pressure");
        assert_eq!(humanise("no_rule_applies"), "no rule applies");
        assert_eq!(capitalised("zero drift"), "Zero drift");
    }
}
