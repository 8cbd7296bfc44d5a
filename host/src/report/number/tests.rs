use super::*;

fn bar() -> Show {
    Show::default()
}

/// JCGM 100:2008, 7.2.6: y = 10.057 62 ohm with u = 27 milliohm is rounded to 10.058 ohm.
#[test]
fn values_are_rounded_to_their_uncertainty_as_the_gum_says() {
    assert_eq!(
        format_fixed(10.05762, decimals_for_uncertainty(0.027)),
        "10.058"
    );
    for (expanded, decimals) in [(3.2, 0), (1.4, 1), (0.31, 1), (0.02, 3), (47.0, -1)] {
        assert_eq!(decimals_for_uncertainty(expanded), decimals, "{expanded}");
    }
}

#[test]
fn a_pressure_with_its_uncertainty_reads_in_each_unit() {
    let text = |unit| {
        let show = Show {
            units: UnitChoice {
                pressure: unit,
                ..UnitChoice::default()
            },
        };
        show.plus_minus(
            Kind::Pressure,
            (61.53e5, String::new()),
            (3.4e5, String::new()),
        )
        .to_text()
    };
    assert_eq!(text(PressureUnit::Bar), "62\u{a0}±\u{a0}3\u{a0}bar");
    assert_eq!(text(PressureUnit::Psi), "890\u{a0}±\u{a0}50\u{a0}psi");
    assert_eq!(text(PressureUnit::Mpa), "6.2\u{a0}±\u{a0}0.3\u{a0}MPa");
}

#[test]
fn a_setting_is_never_rounded_above_its_limit() {
    let near = bar().setting(99.6e5, Some(99.8e5), "k").to_text();
    assert_eq!(near, "99\u{a0}bar");
    assert_eq!(bar().setting(66.4e5, None, "k").to_text(), "66\u{a0}bar");
}

#[test]
fn what_is_not_finite_is_a_dash() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(bar().plain(Kind::Flow, bad, "k").to_text(), NONE);
        let value = bar().plus_minus(Kind::Pressure, (61e5, String::new()), (bad, String::new()));
        assert_eq!(value.to_text(), "61.0\u{a0}bar");
    }
}

#[test]
fn a_probability_never_reads_surer_than_it_is() {
    for (p, text) in [
        (0.998, "99"),
        (1.0, "99"),
        (0.968, "96"),
        (0.002, "1"),
        (0.312, "32"),
    ] {
        let shown = bar().probability(p, "k").to_text();
        assert_eq!(shown, format!("{text}\u{a0}%"), "{p}");
    }
}

#[test]
fn zero_has_no_sign_and_thousands_have_a_narrow_space() {
    assert_eq!(format_fixed(-0.04, 1), "0.0");
    assert_eq!(format_fixed(-4.2, 1), "\u{2212}4.2");
    assert_eq!(format_fixed(12345.6, 0), "12\u{202f}346");
    assert_eq!(format_fixed(1995.0, -1), "2000");
}
