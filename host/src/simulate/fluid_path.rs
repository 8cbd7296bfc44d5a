//! From pump outlet to fan: hose, gun filter and tip in series, and the flow that a pressure drives.
//!
//! Each part gives its pressure drop for a flow; the flow for a pressure is searched, and tabled for
//! the time steps of the rig. Pressures are gauge: the fan meets air.

use crate::recording::settings::Tap;

use super::hose::Hose;
use super::index::position;
use super::liquid::LiquidState;
use super::orifice::Orifice;

/// Everything that the liquid passes between pump outlet and air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FluidPath {
    /// The hose.
    pub hose: Hose,
    /// Gun filter: pressure drop over viscosity and flow, 1/m3 (Darcy).
    pub filter_per_m3: f64,
    /// The tip's opening.
    pub orifice: Orifice,
    /// What flows.
    pub state: LiquidState,
}

/// One steady point along the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// Flow.
    pub flow_m3_per_s: f64,
    /// Pressure just before the opening.
    pub tip_pa: f64,
    /// Pressure at the gun's inlet, before its filter.
    pub gun_pa: f64,
    /// Pressure at the pump's outlet.
    pub pump_pa: f64,
}

impl PathPoint {
    /// Pressure where the transducer is tapped in.
    #[must_use]
    pub const fn tap_pa(&self, tap: Tap) -> f64 {
        match tap {
            Tap::PumpOutlet => self.pump_pa,
            Tap::GunInlet => self.gun_pa,
        }
    }
}

impl FluidPath {
    /// The pressures that a flow (m3/s, not negative) needs.
    #[must_use]
    pub fn at_flow(&self, flow_m3_per_s: f64) -> PathPoint {
        let tip_pa = self.orifice.pressure_drop_pa(&self.state, flow_m3_per_s);
        // A gun filter shears at about 1000 1/s whatever the tip (common practice, no source).
        let filter_pa = self.filter_per_m3 * self.state.viscosity_pa_s(1.0e3) * flow_m3_per_s;
        let gun_pa = tip_pa + filter_pa;
        PathPoint {
            flow_m3_per_s,
            tip_pa,
            gun_pa,
            pump_pa: gun_pa + self.hose.pressure_drop_pa(&self.state, flow_m3_per_s),
        }
    }

    /// The steady point at which `pressure_of` has the given value.
    ///
    /// *Cost*: sixty evaluations of the path.
    fn search(&self, pressure_pa: f64, pressure_of: impl Fn(&PathPoint) -> f64) -> PathPoint {
        let ideal = (2.0 * pressure_pa.max(0.0) / self.state.density_kg_per_m3).sqrt();
        let (mut low, mut high) = (0.0, self.orifice.area_m2() * ideal);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if pressure_of(&self.at_flow(middle)) < pressure_pa {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.at_flow(0.5 * (low + high))
    }

    /// The steady point at a pressure of the pump's outlet.
    #[must_use]
    pub fn at_pump(&self, pressure_pa: f64) -> PathPoint {
        self.search(pressure_pa, |point| point.pump_pa)
    }

    /// The steady point at a pressure just before the opening.
    #[must_use]
    pub fn at_tip(&self, pressure_pa: f64) -> PathPoint {
        self.search(pressure_pa, |point| point.tip_pa)
    }

    /// The steady point at a pressure where the transducer is tapped in.
    #[must_use]
    pub fn at_tap(&self, tap: Tap, pressure_pa: f64) -> PathPoint {
        self.search(pressure_pa, |point| point.tap_pa(tap))
    }
}

/// Flow and gun pressure against pump pressure, at even steps of pump pressure.
#[derive(Debug, Clone)]
pub struct FlowTable {
    step_pa: f64,
    /// Flow and gun pressure at each step; one more than the highest step, so that the last can be
    /// read between.
    rows: Vec<(f64, f64)>,
}

impl FlowTable {
    /// Rows of the table. Flow is near a square root, so that the error of reading between rows falls
    /// with the square of the pressure's row number: below 1e-5 above a tenth of the range.
    const ROWS: u32 = 512;

    /// Flows for which the path is evaluated, spaced in the square.
    const KNOTS: u32 = 256;

    /// The table of a path up to a pump pressure.
    #[must_use]
    pub fn new(path: &FluidPath, highest_pa: f64) -> Self {
        let top = path.at_pump(highest_pa * 1.02).flow_m3_per_s;
        let knots: Vec<PathPoint> = (0..=Self::KNOTS)
            .map(|knot| path.at_flow(top * (f64::from(knot) / f64::from(Self::KNOTS)).powi(2)))
            .collect();
        let step_pa = highest_pa / f64::from(Self::ROWS);
        let mut above = 1;
        let rows = (0..=Self::ROWS + 1)
            .map(|row| {
                let pump_pa = f64::from(row) * step_pa;
                while above + 1 < knots.len() && knots[above].pump_pa < pump_pa {
                    above += 1;
                }
                between(&knots[above - 1], &knots[above], pump_pa)
            })
            .collect();
        Self { step_pa, rows }
    }

    /// Flow (m3/s) and gun pressure (Pa) at a pump pressure; the ends hold outside the table.
    #[must_use]
    pub fn at(&self, pump_pa: f64) -> (f64, f64) {
        let place = (pump_pa / self.step_pa).clamp(0.0, f64::from(Self::ROWS));
        let row = position(place);
        let part = place - place.floor();
        let ((q0, g0), (q1, g1)) = (self.rows[row], self.rows[row + 1]);
        (q0 + part * (q1 - q0), g0 + part * (g1 - g0))
    }
}

/// Flow and gun pressure at a pump pressure between two points of the path.
fn between(below: &PathPoint, above: &PathPoint, pump_pa: f64) -> (f64, f64) {
    let part = (pump_pa - below.pump_pa) / (above.pump_pa - below.pump_pa);
    (
        below.flow_m3_per_s + part * (above.flow_m3_per_s - below.flow_m3_per_s),
        below.gun_pa + part * (above.gun_pa - below.gun_pa),
    )
}

#[cfg(test)]
pub(crate) mod tests {
    use super::super::liquid::{REFERENCE_K, tests::test_enamel};
    use super::*;

    /// A path for the tests of this folder: 15 thou, 7.5 m of hose.
    pub(crate) fn test_path() -> FluidPath {
        FluidPath {
            hose: Hose {
                length_m: 7.5,
                bore_m: 6.4e-3,
                stiffness_pa: 2.0e8,
            },
            filter_per_m3: 5.0e11,
            orifice: Orifice {
                diameter_m: 0.381e-3,
                land_ratio: 2.5,
                edge_factor: 1.0,
            },
            state: test_enamel().at(REFERENCE_K, 0.0),
        }
    }

    #[test]
    fn pressures_add_up_along_the_path_and_searches_return() {
        let path = test_path();
        let point = path.at_pump(1.2e7);
        assert!(point.tip_pa < point.gun_pa && point.gun_pa < point.pump_pa);
        assert!((point.pump_pa / 1.2e7 - 1.0).abs() < 1e-9);
        for again in [
            path.at_tip(point.tip_pa),
            path.at_tap(Tap::GunInlet, point.gun_pa),
        ] {
            assert!((again.flow_m3_per_s / point.flow_m3_per_s - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn table_agrees_with_the_search() {
        let path = test_path();
        let table = FlowTable::new(&path, 2.0e7);
        for bar in [5.0, 20.0, 63.0, 117.0, 199.0] {
            let exact = path.at_pump(bar * 1e5);
            let (flow, gun_pa) = table.at(bar * 1e5);
            let allowed = if bar < 20.0 { 1e-3 } else { 5e-5 };
            assert!((flow / exact.flow_m3_per_s - 1.0).abs() < allowed, "{bar}");
            assert!((gun_pa / exact.gun_pa - 1.0).abs() < allowed, "{bar}");
        }
        assert_eq!(table.at(-1.0).0, 0.0);
        assert!(table.at(9.0e7).0 >= table.at(2.0e7).0);
    }
}
