//! Litres, time and charges of an area in words.

use crate::estimate::Estimate;
use crate::estimate::bracketed::Bracketed;
use crate::pipeline::plan_job::{JobError, JobPlan, JobQuestion, WantedFilm};
use crate::report::number::{Kind, Show, decimals_for_uncertainty, format_fixed};
use crate::report::wording::capitalised;
use crate::units::M3_PER_L;

/// Lines of one tip's job.
pub(super) fn lines(
    question: &JobQuestion,
    found: &Result<JobPlan, JobError>,
    show: Show,
) -> Vec<String> {
    let area = format!(
        "{} m\u{b2}",
        format_fixed(question.area_m2, area_decimals(question.area_m2))
    );
    let plan = match found {
        Err(JobError::OnlyVolume { litres, u_litres }) => {
            let shown = |litres: f64| show.to_unit(Kind::Volume, litres * M3_PER_L);
            let volume = spread(shown(*litres), shown(*u_litres), show.symbol(Kind::Volume));
            return vec![format!(
                "  {area}: {volume} of mixed coating, of which 55 to 85 % reaches the surface; no pressure to set is known \
                 for this tip, so that flow, time and charges are not known."
            )];
        }
        Err(e) => return vec![format!("  {area}: {e}.")],
        Ok(plan) => plan,
    };
    let film = |m: f64| show.plain(Kind::Film, m, "").to_text();
    let dry = plan
        .dry_film_m
        .map_or_else(String::new, |dry| format!(", {} dry", film(dry)));
    let job = &plan.job;
    let mut out = vec![format!(
        "  {area} at {} wet{dry}{}:",
        film(plan.wet_film_m),
        why_film(question, show)
    )];
    let mut volumes = format!("    {} of mixed coating", volume(&job.mixed_m3, show));
    if job.thinner_m3.value > 0.0 {
        volumes.push_str(&format!(
            " ({} of coating and {} of thinner)",
            volume(&job.coating_m3, show),
            volume(&job.thinner_m3, show)
        ));
    }
    out.push(format!("{volumes}; 55 to 85 % of it reaches the surface."));
    out.push(format!(
        "    {} with the trigger open, {} at the hand's speed.",
        minutes(&job.spraying_s),
        coats(&job.coats)
    ));
    match &plan.charges {
        None => {}
        Some(Ok(charges)) => out.push(format!(
            "    {} of the battery, trigger open {} of the time.",
            charges_words(charges),
            show.plain(Kind::Percent, question.spraying_ratio, "")
                .to_text()
        )),
        Some(Err(e)) => out.push(format!("    Battery: {}.", capitalised(&e.to_string()))),
    }
    out
}

fn area_decimals(area_m2: f64) -> i32 {
    i32::from(area_m2 < 10.0)
}

fn why_film(question: &JobQuestion, show: Show) -> String {
    match question.film {
        WantedFilm::OneCoat => format!(
            " (one coat at {} and {} overlap)",
            show.plain(Kind::Speed, question.hand_speed_m_per_s, "")
                .to_text(),
            show.plain(Kind::Percent, question.overlap_ratio, "")
                .to_text()
        ),
        _ => String::new(),
    }
}

fn spread(value: f64, half: f64, unit: &str) -> String {
    let decimals = decimals_for_uncertainty(half.max(1e-12));
    format!(
        "{} \u{b1} {} {unit}",
        format_fixed(value, decimals),
        format_fixed(half, decimals)
    )
}

fn volume(volume_m3: &Estimate, show: Show) -> String {
    let shown = |m3: f64| show.to_unit(Kind::Volume, m3);
    let (value, half) = (shown(volume_m3.value), shown(volume_m3.expanded_95()));
    spread(value, half, show.symbol(Kind::Volume))
}

fn minutes(time_s: &Estimate) -> String {
    spread(time_s.value / 60.0, time_s.expanded_95() / 60.0, "min")
}

fn coats(coats: &Estimate) -> String {
    spread(coats.value, coats.expanded_95(), "coats")
}

fn charges_words(charges: &Bracketed) -> String {
    let i = charges.interval_95;
    let decimals = decimals_for_uncertainty(0.5 * (i.high - i.low));
    format!(
        "{} charges ({} to {})",
        format_fixed(charges.value, decimals),
        format_fixed(i.low.max(0.0), decimals),
        format_fixed(i.high, decimals)
    )
}
