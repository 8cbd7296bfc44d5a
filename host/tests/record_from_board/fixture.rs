//! A recorded fixture as what the emulated board's sensors shall say.

use tipcurve::analysis::convert::{edges_from_counts, find_gaps};
use tipcurve::recording::{Data, FlowColumn, Recording, SampleTable, SlowSeries};
use tipcurve_firmware::Config;
use tipcurve_protocol::Quantity;

use crate::board_feed::Scenario;

const TICKS_PER_S: f64 = 1.0e6;

/// The rows of a recording from `from_s` on and before `to_s`, as a board gives them that starts at `from_s`.
///
/// Pressure holds from each row to the next, as the feed's codes do; edges stand where the analysis puts them
/// when it reads the rows directly; slow channels change with the rows that carry them.
pub(crate) fn scenario_of(
    recording: &Recording,
    rate_hz: u32,
    boot_id: u32,
    (from_s, to_s): (f64, f64),
) -> Scenario {
    let Data::Samples(table) = &recording.data else {
        panic!("{}: no samples.csv", recording.name);
    };
    let last_s = table.t_s.last().expect("rows").min(to_s);
    let period_ticks = 1_000_000 / rate_hz;
    let n = ticks_of(last_s - from_s) / u64::from(period_ticks) + 1;
    let mut row = 0;
    let codes = (0..n).map(|i| {
        let t_s = from_s + i as f64 / f64::from(rate_hz);
        while table.t_s.get(row + 1).is_some_and(|next_s| *next_s <= t_s) {
            row += 1;
        }
        code_of(Quantity::Pressure, table.pressure_pa[row])
    });
    let codes = codes.collect();
    let is_inside = |t_s: &f64| (from_s..last_s).contains(t_s);
    let edges = edges_of(table).into_iter().filter(is_inside);
    Scenario {
        boot_id,
        period_ticks,
        codes,
        edge_ticks: edges.map(|t_s| ticks_of(t_s - from_s)).collect(),
        slow: slow_of(table, (from_s, last_s)),
        button_ticks: Vec::new(),
    }
}

fn edges_of(table: &SampleTable) -> Vec<f64> {
    let FlowColumn::Pulses(counts) = &table.flow else {
        panic!("no pulses in the fixture");
    };
    let gaps = find_gaps(&table.t_s, 3.5, 0.05);
    edges_from_counts(&table.t_s, counts, &table.pulse_t_s, &gaps).t_s
}

fn slow_of(table: &SampleTable, (from_s, last_s): (f64, f64)) -> Vec<(u64, u8, i32)> {
    let slow = &table.slow;
    let series = [
        (Quantity::CoatingTemperature, &slow.material_k),
        (Quantity::AirTemperature, &slow.air_k),
        (Quantity::AirHumidity, &slow.rh_ratio),
        (Quantity::SupplyVoltage, &slow.supply_v),
        (Quantity::SupplyCurrent, &slow.supply_a),
    ];
    let mut changes = Vec::new();
    for (quantity, SlowSeries { t_s, value }) in series {
        for (t_s, value) in t_s.iter().zip(value).filter(|(t_s, _)| **t_s < last_s) {
            let ticks = ticks_of((t_s - from_s).max(0.0));
            changes.push((ticks, u8::from(quantity), code_of(quantity, *value)));
        }
    }
    changes.sort_by_key(|change| change.0);
    changes
}

/// The code that the board's channel table gives this value.
fn code_of(quantity: Quantity, value: f64) -> i32 {
    let channels = Config::default().channels;
    let channel = channels.iter().find(|channel| channel.quantity == quantity);
    let channel = channel.expect("the board has the channel");
    let code = (value * 1.0e9 - channel.offset_nano as f64) / channel.scale_nano as f64;
    code.round() as i32
}

fn ticks_of(duration_s: f64) -> u64 {
    (duration_s * TICKS_PER_S).round() as u64
}
