//! The figure of the window: each name at its own end.

use super::{example, files, readers};

/// Where a text hangs, in units of the drawing.
fn x_of(svg: &str, text: &str) -> f64 {
    let (before, _) = svg.split_once(&format!("\n{text}\n")).unwrap();
    let (_, element) = before.rsplit_once("<text x=\"").unwrap();
    element.split('"').next().unwrap().parse().unwrap()
}

#[test]
fn names_stand_outside_their_ends_in_an_open_and_in_a_closed_window() {
    for closed in [false, true] {
        let mut findings = example::yard();
        let window = findings.groups[0].window.as_mut().unwrap();
        let lower = window.lower_pa.unwrap();
        window.upper_pa = if closed { 0.8 * lower } else { 1.3 * lower };
        let files = files(&findings, &readers()[0]);
        let is_window =
            |name: &str| name.starts_with("figures/window-1-") && name.ends_with(".svg");
        let svg = &files.iter().find(|f| is_window(&f.name)).unwrap().text;
        assert_eq!(x_of(svg, "rig holds") < x_of(svg, "tails gone"), closed);
    }
}
