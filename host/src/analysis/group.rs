//! Settings carried forward through the notes, and bursts put into groups. No statistics.

use serde::{Deserialize, Serialize};

use super::thresholds::TEMPERATURE_STEP_K;
use crate::estimate::Estimate;

/// What was set while a burst was sprayed, carried forward from the notes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Setting {
    /// Tip code.
    pub tip: Option<String>,
    /// The user's family word.
    pub tip_family: Option<String>,
    /// Coating.
    pub material: Option<String>,
    /// Thinner, 0 to 1 by volume of coating.
    pub thinner_ratio: Option<f64>,
    /// Control position.
    pub dial: Option<String>,
    /// Strained before use.
    pub strained: Option<bool>,
}

impl Setting {
    /// What parts one group from another, as one text; two settings with the same text share a
    /// nozzle curve as long as temperature and tip do not change.
    #[must_use]
    pub fn group_key(&self) -> String {
        let text = |cell: &Option<String>| cell.clone().unwrap_or_default();
        let thinner = self.thinner_ratio.unwrap_or(0.0);
        format!(
            "{}\u{1f}{}\u{1f}{}\u{1f}{thinner:.4}",
            text(&self.tip),
            text(&self.tip_family),
            text(&self.material)
        )
    }

    /// This setting with the empty cells of `self` taken from `earlier`.
    #[must_use]
    fn over(&self, earlier: &Self) -> Self {
        fn keep<T: Clone>(now: &Option<T>, before: &Option<T>) -> Option<T> {
            now.clone().or_else(|| before.clone())
        }
        Self {
            tip: keep(&self.tip, &earlier.tip),
            tip_family: keep(&self.tip_family, &earlier.tip_family),
            material: keep(&self.material, &earlier.material),
            thinner_ratio: keep(&self.thinner_ratio, &earlier.thinner_ratio),
            dial: keep(&self.dial, &earlier.dial),
            strained: keep(&self.strained, &earlier.strained),
        }
    }
}

/// Bursts with one tip, family, coating, thinner, temperature band and phase: one nozzle curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Tip code.
    pub tip: String,
    /// The user's own family word.
    pub tip_family: Option<String>,
    /// Coating.
    pub material: String,
    /// Thinner, 0 to 1.
    pub thinner_ratio: f64,
    /// Mean coating temperature, K, where logged.
    pub material_k: Option<f64>,
    /// Running number of the state when one setting was found in more than one (0 first): a
    /// restriction developed, the temperature changed, the tip was changed and changed back.
    pub phase: u32,
    /// Bursts, ascending.
    pub burst_indices: Vec<usize>,
    /// Flow over that of the state before at the same pressure, where a step of the nozzle curve parts the two: from
    /// that step, so that it is known where one of the states has no curve of its own.
    #[serde(default)]
    pub flow_step_ratio: Option<Estimate>,
}

impl Group {
    /// True when two groups are the same setting in (possibly) different states.
    #[must_use]
    pub fn is_same_setting(&self, other: &Self) -> bool {
        self.tip == other.tip
            && self.tip_family == other.tip_family
            && self.material == other.material
            && (self.thinner_ratio - other.thinner_ratio).abs() < 5e-5
    }
}

/// Fills the empty cells of each note from the note above.
///
/// *Shape*: one entry a note, in the true order of the notes; comes back as long.
#[must_use]
pub fn carry_forward(cells: &[Setting]) -> Vec<Setting> {
    let mut carried = Setting::default();
    cells
        .iter()
        .map(|cell| {
            carried = cell.over(&carried);
            carried.clone()
        })
        .collect()
}

/// One burst as grouping sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupMember {
    /// Index of the burst.
    pub burst_index: usize,
    /// What was set.
    pub setting: Setting,
    /// Coating temperature, K.
    pub material_k: Option<f64>,
}

/// Puts bursts into groups, in order of each group's first burst.
///
/// Within one setting, a step of the coating's temperature of more than
/// [`TEMPERATURE_STEP_K`] between neighbours in temperature parts two groups.
#[must_use]
pub fn form_groups(members: &[GroupMember]) -> Vec<Group> {
    let mut settings: Vec<(String, Vec<&GroupMember>)> = Vec::new();
    for member in members {
        let key = member.setting.group_key();
        match settings.iter_mut().find(|(k, _)| *k == key) {
            Some((_, list)) => list.push(member),
            None => settings.push((key, vec![member])),
        }
    }
    let mut groups: Vec<Group> = settings
        .iter()
        .flat_map(|(_, list)| split_by_temperature(list))
        .collect();
    groups.sort_by_key(|g| g.burst_indices.first().copied().unwrap_or(usize::MAX));
    number_phases(&mut groups);
    groups
}

/// Numbers the states of each setting in order of their first burst.
///
/// *Shape*: groups in order of their first burst.
pub fn number_phases(groups: &mut [Group]) {
    for i in 0..groups.len() {
        let earlier = groups[..i]
            .iter()
            .filter(|g| g.is_same_setting(&groups[i]))
            .count();
        groups[i].phase = u32::try_from(earlier).unwrap_or(u32::MAX);
    }
}

fn split_by_temperature(list: &[&GroupMember]) -> Vec<Group> {
    let mut known: Vec<f64> = list.iter().filter_map(|m| m.material_k).collect();
    known.sort_by(f64::total_cmp);
    let edges: Vec<f64> = known
        .windows(2)
        .filter(|w| w[1] - w[0] > TEMPERATURE_STEP_K)
        .map(|w| 0.5 * (w[0] + w[1]))
        .collect();
    let mut bands: Vec<Vec<&GroupMember>> = vec![Vec::new(); edges.len() + 1];
    for member in list {
        let band = member
            .material_k
            .map_or(0, |k| edges.iter().filter(|edge| k > **edge).count());
        bands[band].push(member);
    }
    bands
        .into_iter()
        .filter(|band| !band.is_empty())
        .map(|band| group_of(&band))
        .collect()
}

fn group_of(band: &[&GroupMember]) -> Group {
    let setting = &band[0].setting;
    let temperatures: Vec<f64> = band.iter().filter_map(|m| m.material_k).collect();
    #[allow(clippy::cast_precision_loss)]
    let material_k = (!temperatures.is_empty())
        .then(|| temperatures.iter().sum::<f64>() / temperatures.len() as f64);
    Group {
        tip: setting.tip.clone().unwrap_or_default(),
        tip_family: setting.tip_family.clone(),
        material: setting.material.clone().unwrap_or_default(),
        thinner_ratio: setting.thinner_ratio.unwrap_or(0.0),
        material_k,
        phase: 0,
        burst_indices: band.iter().map(|m| m.burst_index).collect(),
        flow_step_ratio: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setting(tip: &str, dial: Option<&str>) -> Setting {
        Setting {
            tip: Some(tip.to_owned()),
            dial: dial.map(str::to_owned),
            ..Setting::default()
        }
    }

    #[test]
    fn empty_cells_keep_the_value_of_the_note_above() {
        let cells = [
            setting("415", Some("3")),
            Setting {
                dial: Some("5".to_owned()),
                ..Setting::default()
            },
            setting("311", None),
        ];
        let carried = carry_forward(&cells);
        assert_eq!(carried[1].tip.as_deref(), Some("415"));
        assert_eq!(carried[2].dial.as_deref(), Some("5"));
    }

    #[test]
    fn tips_part_groups_and_so_do_two_temperatures() {
        let member = |i, tip: &str, k| GroupMember {
            burst_index: i,
            setting: setting(tip, None),
            material_k: Some(k),
        };
        let groups = form_groups(&[
            member(0, "415", 280.0),
            member(1, "415", 281.0),
            member(2, "311", 281.0),
            member(3, "415", 299.0),
            member(4, "415", 298.0),
        ]);
        let indices: Vec<_> = groups.iter().map(|g| g.burst_indices.clone()).collect();
        assert_eq!(indices, vec![vec![0, 1], vec![2], vec![3, 4]]);
        assert_eq!(
            groups.iter().map(|g| g.phase).collect::<Vec<_>>(),
            [0, 0, 1]
        );
    }

    #[test]
    fn a_dial_does_not_part_groups() {
        let members: Vec<_> = ["3", "5"]
            .iter()
            .enumerate()
            .map(|(burst_index, dial)| GroupMember {
                burst_index,
                setting: setting("415", Some(dial)),
                material_k: None,
            })
            .collect();
        assert_eq!(form_groups(&members).len(), 1);
    }
}
