//! Labels that stand beside what they name and do not cover each other; names of groups.

use std::collections::HashSet;

use crate::findings::Findings;

/// Moves label heights apart to at least `least` pixels, keeping their order and staying in `top..=bottom`.
///
/// *Shape*: one wanted height a label; comes back in the same order.
pub(super) fn spread(wanted: &[f64], least: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut placed = vec![0.0; wanted.len()];
    let mut next = top;
    for i in &order {
        placed[*i] = wanted[*i].max(next);
        next = placed[*i] + least;
    }
    let mut limit = bottom;
    for i in order.iter().rev() {
        placed[*i] = placed[*i].min(limit);
        limit = placed[*i] - least;
    }
    placed
}

/// A name for each group that tells it from the others with as few words as possible.
pub(crate) fn group_names(f: &Findings) -> Vec<String> {
    let tip = |i: usize| match f.groups[i].group.tip.as_str() {
        "" => "no tip noted".to_owned(),
        code => code.to_owned(),
    };
    let n = f.groups.len();
    let several =
        |word: &dyn Fn(usize) -> String| (0..n).map(word).collect::<HashSet<_>>().len() > 1;
    let material = |i: usize| f.groups[i].group.material.clone();
    let thinner = |i: usize| format!("{:.1}", f.groups[i].group.thinner_ratio * 100.0);
    let (with_material, with_thinner) = (several(&material), several(&thinner));
    (0..n)
        .map(|i| {
            let mut name = tip(i);
            if with_material && !material(i).is_empty() {
                name = format!("{name} {}", material(i));
            }
            if with_thinner {
                name = format!("{name} +{} %", thinner(i).trim_end_matches(".0"));
            }
            let g = &f.groups[i].group;
            let states = f
                .groups
                .iter()
                .filter(|o| o.group.is_same_setting(g))
                .count();
            if states > 1 {
                name = format!("{name} ({})", state_word(g.phase, states));
            }
            name
        })
        .collect()
}

fn state_word(phase: u32, states: usize) -> String {
    match (phase, states) {
        (0, _) => "before".to_owned(),
        (1, 2) => "after".to_owned(),
        (p, _) => format!("state {}", p + 1),
    }
}

/// A name cut to what fits.
pub(super) fn shortened(name: &str, most_chars: usize) -> String {
    if name.chars().count() <= most_chars {
        return name.to_owned();
    }
    let kept: String = name.chars().take(most_chars.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_their_order_and_their_distance() {
        let placed = spread(&[50.0, 52.0, 20.0, 99.0], 14.0, 0.0, 100.0);
        assert!(placed[1] - placed[0] >= 14.0 - 1e-9);
        assert_eq!(placed[2], 20.0);
        assert!(placed[3] <= 100.0 && placed[3] - placed[1] >= 14.0);
    }

    #[test]
    fn long_names_are_cut_with_a_mark() {
        assert_eq!(shortened("hull primer", 6), "hull\u{2026}");
        assert_eq!(shortened("415", 6), "415");
    }
}
