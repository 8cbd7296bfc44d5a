//! A blockage that builds up while liquid passes.

/// Where it sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RestrictionPlace {
    /// In the tip's opening: its area shrinks.
    Tip,
    /// In the gun filter: its resistance grows.
    GunFilter,
    /// At the pump's inlet: it lets less in.
    Inlet,
}

/// A restriction and how far it has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Restriction {
    place: RestrictionPlace,
    final_openness: f64,
    builds_over_s: f64,
    sprayed_s: f64,
}

impl Restriction {
    /// A restriction that leaves `final_openness` (0 to 1: part of the area, of the filter's
    /// conductance or of the inlet's capacity) after `builds_over_s` seconds of spraying.
    #[must_use]
    pub const fn new(place: RestrictionPlace, final_openness: f64, builds_over_s: f64) -> Self {
        Self {
            place,
            final_openness,
            builds_over_s,
            sprayed_s: 0.0,
        }
    }

    /// Where it sits.
    #[must_use]
    pub const fn place(&self) -> RestrictionPlace {
        self.place
    }

    /// How far it has come, 0 to 1.
    #[must_use]
    pub fn progress(&self) -> f64 {
        (self.sprayed_s / self.builds_over_s).min(1.0)
    }

    /// Part of the place still open, 0 to 1.
    #[must_use]
    pub fn openness(&self) -> f64 {
        1.0 - (1.0 - self.final_openness) * self.progress()
    }

    /// Liquid passes for a while.
    pub fn spray(&mut self, duration_s: f64) {
        self.sprayed_s += duration_s;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_builds_up_while_spraying_and_then_stays() {
        let mut restriction = Restriction::new(RestrictionPlace::Tip, 0.7, 8.0);
        assert_eq!(restriction.openness(), 1.0);
        restriction.spray(4.0);
        assert!((restriction.openness() - 0.85).abs() < 1e-12);
        restriction.spray(40.0);
        assert!((restriction.openness() - 0.7).abs() < 1e-12);
        assert_eq!(restriction.progress(), 1.0);
    }
}
