use std::path::Path;

use super::*;
use crate::interchange::import_folder;
use crate::pipeline::analyse;
use crate::pipeline::compare_days::compare_days;

fn fixture(name: &str) -> Findings {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures");
    analyse(import_folder(&folder.join(name)).unwrap())
}

/// A recording held against a copy of itself in which every flow is so many times as large.
fn grown(factor: f64) -> (Findings, Findings) {
    let before = fixture("rec-10");
    let mut after = before.clone();
    after.name = "later".to_owned();
    for g in &mut after.groups {
        if let Ok(c) = &mut g.curve {
            let law = &mut c.power_law;
            law.q_ref_m3_per_s = law.q_ref_m3_per_s.scaled(factor);
            if let Some(two) = &mut c.two_term {
                two.a_pa_s_per_m3 = two.a_pa_s_per_m3.scaled(1.0 / factor);
                two.b_pa_s2_per_m6 = two.b_pa_s2_per_m6.scaled(1.0 / factor / factor);
                two.cov_a_b /= factor.powi(3);
                two.cov_a_b_common /= factor.powi(3);
            }
        }
    }
    (before, after)
}

fn said(before: &Findings, after: &Findings) -> String {
    let compared = Compared {
        before,
        later: vec![(after, compare_days(before, after, true).unwrap())],
    };
    let text = text(&compared, &UnitChoice::default());
    assert!(!text.contains("NaN") && !text.contains("inf "), "{text}");
    text
}

#[test]
fn wear_and_blockage_are_opposite_words_with_their_cautions() {
    let (before, after) = grown(1.2);
    let up = said(&before, &after);
    assert!(
        up.contains("it is wearing") && up.contains("replace the tip"),
        "{up}"
    );
    assert!(up.contains("rose: 20."), "{up}");
    let (before, after) = grown(0.8);
    let down = said(&before, &after);
    assert!(
        down.contains("a restriction at the tip or the gun filter"),
        "{down}"
    );
    assert!(
        down.contains("lock the trigger") && down.contains("Do not turn it up"),
        "{down}"
    );
    assert!(!down.contains("replace the tip"), "{down}");
}

#[test]
fn a_colder_day_is_not_called_a_change_of_the_tip_unless_it_can_be_taken_out() {
    let (mut before, mut after) = grown(0.93);
    for g in &mut before.groups {
        g.group.material_k = Some(293.0);
    }
    for g in &mut after.groups {
        g.group.material_k = Some(285.0);
    }
    after
        .settings
        .materials
        .iter_mut()
        .for_each(|m| m.viscosity.clear());
    let moved = compare_days(&before, &after, true).unwrap();
    let pair = moved.nozzles[0].result.as_ref().unwrap();
    assert_eq!(pair.change, crate::analysis::answer::Change::CannotTell);
    let text = said(&before, &after);
    assert!(text.contains("8 K colder"), "{text}");
    assert!(
        text.contains("viscosity at two temperatures is missing"),
        "{text}"
    );
    assert!(
        text.contains("repeat at the same coating temperature"),
        "{text}"
    );
}

#[test]
fn a_pump_that_holds_less_is_told_from_a_tip() {
    let before = fixture("rec-10");
    let mut after = before.clone();
    after.name = "later".to_owned();
    for s in &mut after.supply {
        for p in &mut s.points {
            p.pressure_pa = p.pressure_pa.scaled(0.8);
            p.stalled_pa = p.stalled_pa.map(|x| 0.8 * x);
        }
        let points: Vec<_> = s
            .points
            .iter()
            .map(|p| (s.dial.clone(), p.clone()))
            .collect();
        let is_full = s.is_full;
        *s = crate::analysis::supply_curve::fit_supply_curves(&points).remove(0);
        s.is_full = is_full;
    }
    let text = said(&before, &after);
    assert!(text.contains("The pump holds less"), "{text}");
    assert!(!text.contains("clean the tip"), "{text}");
}
