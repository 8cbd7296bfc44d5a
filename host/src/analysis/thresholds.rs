//! Every decision limit with its reason. No logic.
//!
//! Each constant says where it comes from and what happens just above and just below it. Limits
//! that follow from an instrument or from mathematics stand beside their formula instead.

/// Readings above this multiple of the sensor's full scale are no readings of it in bar. A sensor bears an
/// overload and its converter ends a few percent above full scale; psi for bar makes 14.5 and lies above from a tenth
/// of full scale on. Just below it, readings above full scale are taken as they are.
pub const BEYOND_FULL_SCALE_RATIO: f64 = 1.5;

/// Pressure that no airless rig makes, Pa: they are rated to 500 bar or so (common practice, no source). Above it a
/// number in bar was written in psi or kPa.
pub const HIGHEST_RIG_PA: f64 = 1.0e8;

/// Shortest stationary part whose means are used, s. Below it fewer than two strokes of a slow
/// pump fit in, and a mean over whole strokes has no uncertainty; just above it the uncertainty is
/// large and the fit gives the point little weight.
pub const SHORTEST_STEADY_S: f64 = 0.8;

/// A trend of pressure below this share of the mean over a burst is left alone: pressure and flow
/// move along the curve together, and the curve's bend shifts the point by less than
/// `n (1 - n) / 24 * drift^2`, that is 0.001 %. Just above it a later beginning is tried.
pub const SMALL_DRIFT_RATIO: f64 = 0.01;

/// A burst whose best part still drifts by more than this is not used: at 0.25 the bend of
/// the curve would shift the point by 0.07 %, still below its noise, but the control was not at work.
pub const MOST_DRIFT_RATIO: f64 = 0.25;

/// Fewest edges for a flow: three edges give two intervals, so that one can contradict the other.
pub const FEWEST_EDGES: usize = 3;

/// Sag (1 - spraying / stalled at the same control position) above which the supply is looked at.
/// A control's dead band and droop, and the hose's loss at the flow, are up to a tenth
/// (common practice, no source). Below, pressure "holds".
pub const SAG_HOLDS_RATIO: f64 = 0.10;

/// A sag is known to about this much, from two medians of ripple (common practice, no source). Within it of zero
/// the pressure stays; further below, it had not come up when the trigger opened and says nothing of the supply.
pub const SAG_DOUBT_RATIO: f64 = 0.02;

/// Sag above which pressure certainly does not hold. Between the two, the question is whether
/// the stalled pressure would have cleared the tails.
pub const SAG_FAILS_RATIO: f64 = 0.18;

/// Probability at or above which a verdict is given. Below, the answer is "undetermined" with the
/// trial that would settle it: at 0.9 one verdict in ten near the limit would be wrong, and the two
/// limits ask for opposite tip changes.
pub const DECIDE_PROBABILITY: f64 = 0.9;

/// Relative standard uncertainty of the turbulent discharge coefficient of a short sharp-edged
/// orifice, and its middle: 0.60 (sharp edge, ISO 5167-2) to 0.85 (short tube, from memory of
/// hydraulics handbooks).
pub const DISCHARGE_COEFFICIENT: f64 = 0.70;
/// Relative standard uncertainty of [`DISCHARGE_COEFFICIENT`].
pub const U_DISCHARGE_COEFFICIENT_RATIO: f64 = 0.09;

/// Ratio of equivalent to stamped orifice below which no tip is called worn: flow up by a quarter. Above it
/// the probability decides (`wear`): stamping varies by about 2 % and the discharge coefficient makes
/// 4.5 % of diameter, so that 1.12 alone lies 2.4 standard uncertainties above a sound tip.
pub const WORN_ORIFICE_RATIO: f64 = 1.12;

/// Fall of the nozzle curve against its own baseline (ratio of flows at the same pressure) that is
/// called a restriction when it is also beyond its uncertainty. Bursts of one setting repeat
/// within 2 %; at 0.94 a sixth of a thou of a 15 thou tip is gone.
pub const RESTRICTED_FLOW_RATIO: f64 = 0.94;

/// Rise of the nozzle curve against its own baseline that is called wear within a recording, or a
/// restriction that came free.
pub const RISEN_FLOW_RATIO: f64 = 1.06;

/// Fall of the held pressure at the same control position and tip that is called a fallen
/// supply. Controls come back to the same pressure within 2 or 3 %.
pub const SUPPLY_FELL_RATIO: f64 = 0.90;

/// Scatter of the points at full position about one supply curve above which they are not taken for one
/// supply. A control repeats within 2 or 3 %; at 0.06 a supply that fell by a tenth half-way is told.
pub const SUPPLY_SCATTER_RATIO: f64 = 0.06;

/// Supply voltage under load, later over earlier, below which a fallen supply is the battery's doing. A
/// pump that delivers less draws less, so that a sound supply's voltage *rises* when the inlet
/// is restricted: any fall beyond the 2 % of the readings speaks against the inlet.
pub const WEAK_BATTERY_RATIO: f64 = 0.97;
/// The same ratio above which the supply is sound and the inlet or the pump is the cause. Between the
/// two, the answer is undetermined.
pub const SOUND_SUPPLY_RATIO: f64 = 0.985;

/// Change of the coating's temperature between two states of one setting that makes temperature the
/// first explanation of a move of the nozzle curve, K.
pub const TEMPERATURE_STEP_K: f64 = 6.0;

/// Margin above the lowest tail-free pressure in the recommendation. A grader's own spread is
/// about 5 % and a control comes back within 3 % (common practice, no source).
pub const MARGIN_RATIO: f64 = 0.06;

/// A pressure reading this close below full scale, flat, is saturated.
pub const SATURATED_RATIO: f64 = 0.995;

/// Share of the median residual that two pressure units differ by at least (psi and bar: 14.5; bar and
/// MPa: 10; kPa and bar: 100): a jump of the scale of one setting beyond this factor is a
/// change of unit, no change of the rig.
pub const UNIT_CHANGE_FACTOR: f64 = 4.0;

/// Longest time that a working sensor reads the very same value while flow starts or stops, s.
pub const STUCK_S: f64 = 2.0;

/// Flow over the ideal outflow of the stamped hole above which no tip explains it: three times the area would be worn
/// out at 1.7 times the diameter. Just below it a heavily worn tip is still believed.
pub const FLOW_IN_DOUBT_ABOVE_RATIO: f64 = 3.0;
/// The same below: coatings that leave tails pass a tenth of the ideal and more (common practice, no source); at a
/// hundredth it would drip.
pub const FLOW_IN_DOUBT_BELOW_RATIO: f64 = 0.01;
