//! The flow meter: a positive-displacement meter that gives pulses, with its own faults.
//!
//! It sits in the fluid line at the gun's end. Its pulses come when its volume has passed, so edges
//! stand at their real times; its constant is off by a little, some liquid slips past, its teeth are
//! not all alike, and a contact may bounce.

use super::random::RandomStream;
use super::trace::{STEP_S, Trace};

/// A flow meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowMeter {
    /// K-factor that its papers state, 1/m3.
    pub nominal_k_per_m3: f64,
    /// Relative standard uncertainty that its papers state.
    pub stated_u_ratio: f64,
    /// True K-factor over the stated one, less 1.
    pub k_error_ratio: f64,
    /// Flow that slips past unmeasured once the meter turns, m3/s.
    pub slip_m3_per_s: f64,
    /// Teeth of the rotor: pulses per turn.
    pub teeth: u32,
    /// How much the volumes of one turn's teeth differ, as a half-swing ratio.
    pub tooth_swing_ratio: f64,
    /// Part of the pulses whose contact bounces.
    pub bounce_ratio: f64,
}

impl FlowMeter {
    /// Pulse rate, 1/s, at a steady flow.
    #[must_use]
    pub fn pulse_rate_hz(&self, flow_m3_per_s: f64) -> f64 {
        if flow_m3_per_s <= 0.0 {
            return 0.0;
        }
        // A slow meter slips relatively more; a stopped one lets everything slip.
        let measured = flow_m3_per_s * flow_m3_per_s / (flow_m3_per_s + self.slip_m3_per_s);
        self.nominal_k_per_m3 * (1.0 + self.k_error_ratio) * measured
    }

    /// True times of all pulse edges of a trace, s, increasing, bounce included.
    #[must_use]
    pub fn edges(&self, trace: &Trace, random: &mut RandomStream) -> Vec<f64> {
        let mut edges = Vec::new();
        let mut tooth = 0;
        // The rotor stands anywhere within a tooth at the start.
        let mut to_go = random.uniform(0.0, 1.0);
        let mut start_s = 0.0;
        for flow in &trace.flow_m3_per_s {
            let mut turned = self.pulse_rate_hz(*flow) * STEP_S;
            if turned > 0.0 {
                let mut at_s = start_s;
                let rate_hz = turned / STEP_S;
                while turned >= to_go {
                    turned -= to_go;
                    at_s += to_go / rate_hz;
                    self.push_edge(at_s, &mut edges, random);
                    tooth = (tooth + 1) % self.teeth.max(1);
                    to_go = self.tooth_share(tooth);
                }
                to_go -= turned;
            }
            start_s += STEP_S;
        }
        edges
    }

    fn push_edge(&self, at_s: f64, edges: &mut Vec<f64>, random: &mut RandomStream) {
        edges.push(at_s);
        if self.bounce_ratio > 0.0 && random.chance(self.bounce_ratio) {
            edges.push(at_s + random.uniform(0.5e-4, 4.0e-4));
        }
    }

    /// Volume of one tooth over the mean of a turn.
    fn tooth_share(&self, tooth: u32) -> f64 {
        let angle = std::f64::consts::TAU * f64::from(tooth) / f64::from(self.teeth.max(1));
        1.0 + self.tooth_swing_ratio * angle.sin()
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::super::random::Part;
    use super::*;

    /// A meter of 3000 pulses/L without faults, for the tests of this folder.
    pub(crate) fn test_meter() -> FlowMeter {
        FlowMeter {
            nominal_k_per_m3: 3.0e6,
            stated_u_ratio: 0.01,
            k_error_ratio: 0.0,
            slip_m3_per_s: 0.0,
            teeth: 12,
            tooth_swing_ratio: 0.0,
            bounce_ratio: 0.0,
        }
    }

    fn steady(flow_m3_per_s: f64, duration_steps: usize) -> Trace {
        Trace {
            flow_m3_per_s: vec![flow_m3_per_s; duration_steps],
            ..Trace::default()
        }
    }

    fn edges_of(meter: &FlowMeter, trace: &Trace) -> Vec<f64> {
        meter.edges(trace, &mut RandomStream::new(1, Part::Meter))
    }

    /// 0.5 L/min at 3000 pulses/L: 25 pulses a second, evenly spaced to a microsecond.
    #[test]
    fn edges_come_at_their_real_times() {
        let edges = edges_of(&test_meter(), &steady(0.5e-3 / 60.0, 8_000));
        assert!((199..=200).contains(&edges.len()));
        for pair in edges.windows(2) {
            assert!((pair[1] - pair[0] - 0.04).abs() < 1e-6);
        }
    }

    #[test]
    fn uneven_teeth_cancel_over_a_turn() {
        let meter = FlowMeter {
            tooth_swing_ratio: 0.05,
            ..test_meter()
        };
        let edges = edges_of(&meter, &steady(0.5e-3 / 60.0, 8_000));
        let turn_s = edges[60] - edges[48];
        assert!((turn_s - 0.48).abs() < 1e-6);
        assert!((edges[51] - edges[48] - 0.12).abs() > 1e-3);
    }

    #[test]
    fn slip_and_constant_error_change_the_rate() {
        let flow = 1.0e-5;
        let meter = FlowMeter {
            k_error_ratio: 0.02,
            slip_m3_per_s: 1.0e-7,
            ..test_meter()
        };
        assert!((meter.pulse_rate_hz(flow) - 30.0 * 1.02 / 1.01).abs() < 1e-9);
        assert_eq!(meter.pulse_rate_hz(0.0), 0.0);
    }

    #[test]
    fn bounce_adds_edges_close_behind() {
        let meter = FlowMeter {
            bounce_ratio: 0.2,
            ..test_meter()
        };
        let edges = edges_of(&meter, &steady(1.0e-5, 10_000));
        let bounced = edges.windows(2).filter(|w| w[1] - w[0] < 5e-4).count();
        assert!((30..90).contains(&bounced), "{bounced}");
    }
}
