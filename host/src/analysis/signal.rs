//! What the analysis reads: pressure, flow edges and slow channels on one time line, in SI.
//!
//! Made from a recording by `convert`. A signal says how well each thing is known; it never hides
//! a gap, and nothing in it is smoothed.

/// Everything that the sensors saw.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Signal {
    /// Logger time of each pressure sample, strictly increasing.
    pub t_s: Vec<f64>,
    /// Gauge pressure, zero not yet corrected; `NaN` where none was sampled. As long as `t_s`.
    pub pressure_pa: Vec<f64>,
    /// Flow.
    pub flow: FlowSignal,
    /// Slow channels.
    pub slow: Slow,
    /// Stretches where the recording lost something.
    pub gaps: Vec<Gap>,
    /// What is known of the pressure sensor.
    pub pressure_sensor: PressureSensor,
    /// What is known of the flow meter.
    pub flow_meter: FlowMeter,
}

/// Flow, as edges in time or as a rate.
#[derive(Debug, Clone, PartialEq)]
pub enum FlowSignal {
    /// Pulse edges. All three of one length; times do not decrease.
    Edges {
        /// Best time of each edge.
        t_s: Vec<f64>,
        /// Standard uncertainty of each time: a microsecond from a capture, a fraction of a row
        /// where only counts per row are known.
        u_t_s: Vec<f64>,
    },
    /// A rate with each pressure sample; `NaN` where none. As long as `Signal::t_s`.
    Rate {
        /// Volume flow rate.
        flow_m3_per_s: Vec<f64>,
    },
}

impl Default for FlowSignal {
    fn default() -> Self {
        Self::Edges {
            t_s: Vec::new(),
            u_t_s: Vec::new(),
        }
    }
}

/// One slow channel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Logger time, increasing.
    pub t_s: Vec<f64>,
    /// Values, SI.
    pub value: Vec<f64>,
}

impl Series {
    /// Mean of the values with `from_s <= t <= to_s`, or `None` when there is none.
    #[must_use]
    pub fn mean_between(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let from = self.t_s.partition_point(|t| *t < from_s);
        let to = self.t_s.partition_point(|t| *t <= to_s).max(from);
        let (mut sum, mut n) = (0.0, 0u32);
        for v in self.value[from..to].iter().filter(|v| v.is_finite()) {
            sum += v;
            n += 1;
        }
        (n > 0).then(|| sum / f64::from(n))
    }

    /// The value nearest in time to `t_s`, or `None` when the channel is empty.
    #[must_use]
    pub fn nearest(&self, t_s: f64) -> Option<f64> {
        let after = self.t_s.partition_point(|t| *t < t_s);
        let candidates = [
            after.checked_sub(1),
            (after < self.t_s.len()).then_some(after),
        ];
        candidates
            .into_iter()
            .flatten()
            .min_by(|a, b| {
                let (da, db) = ((self.t_s[*a] - t_s).abs(), (self.t_s[*b] - t_s).abs());
                da.total_cmp(&db)
            })
            .map(|i| self.value[i])
    }
}

/// The slow channels, each possibly empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Slow {
    /// Supply or battery voltage, V.
    pub supply_v: Series,
    /// Supply or battery current, A.
    pub supply_a: Series,
    /// Coating temperature, K.
    pub material_k: Series,
    /// Air temperature, K.
    pub air_k: Series,
    /// Relative humidity of the air, 0 to 1.
    pub rh_ratio: Series,
}

/// A stretch of logger time in which something was lost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Last good time before it.
    pub from_s: f64,
    /// First good time after it.
    pub to_s: f64,
}

/// What is known of the pressure sensor. Standard uncertainties, common to the recording.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PressureSensor {
    /// Full scale.
    pub full_scale_pa: Option<f64>,
    /// Standard uncertainty of the zero.
    pub u_zero_pa: f64,
    /// Relative standard uncertainty of the span.
    pub u_span_ratio: f64,
    /// Smallest step that the readings show, where known.
    pub resolution_pa: Option<f64>,
}

/// What is known of the flow meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowMeter {
    /// Volume per pulse; used with edges only.
    pub pulse_volume_m3: f64,
    /// Relative standard uncertainty of that volume, common to the recording.
    pub u_pulse_volume_ratio: f64,
    /// True when no calibration was given and the maker's nominal stands in.
    pub is_nominal: bool,
    /// Lowest pulse frequency that was calibrated; below it a flow is a bound.
    pub lowest_calibrated_hz: Option<f64>,
}

impl Default for FlowMeter {
    fn default() -> Self {
        Self {
            pulse_volume_m3: 1.0e-6,
            u_pulse_volume_ratio: 0.05,
            is_nominal: true,
            lowest_calibrated_hz: None,
        }
    }
}
