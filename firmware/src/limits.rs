//! Every rate, depth and budget of the core, each with its derivation. No constants elsewhere.

use tipcurve_protocol::delta::MAX_CODES;

/// Lowest sample rate a command may ask for, 1/s.
pub const MIN_SAMPLE_RATE_HZ: u16 = 10;

/// Highest sample rate, 1/s: ten times the fastest stroke ripple of a small pump with its
/// harmonics (common practice, no source), and a third of what 115200 baud carries.
pub const MAX_SAMPLE_RATE_HZ: u16 = 1_000;

/// Sample rate after the start, 1/s.
pub const DEFAULT_SAMPLE_RATE_HZ: u16 = 500;

/// Longest time from the first sample of a block to its last. Half a second keeps a bench page alive
/// and costs at most that much when a frame is lost; framing is then about a tenth of a byte a
/// sample at 500 Hz.
pub const BLOCK_TICKS: u32 = 500_000;

/// Longest time that an edge waits for its block to fill. Half a second, as for samples.
pub const EDGE_BLOCK_TICKS: u64 = 500_000;

/// Sample blocks that may wait for the line: 1.5 s at 1 kHz, 3 s at 500 Hz, and 6 KiB of RAM.
pub const SAMPLE_QUEUE_BLOCKS: usize = 6;

/// Edge blocks that may wait for the line: 256 edges, 1.7 s of the fastest expected 150 Hz.
pub const EDGE_QUEUE_BLOCKS: usize = 4;

/// Slow readings that may wait: 0.8 s at the five a second of the default channel table.
pub const SLOW_QUEUE: usize = 4;

/// Marks that may wait. A person presses less than five times in the 1.5 s that samples can wait.
pub const MARK_QUEUE: usize = 8;

/// Answers that may wait. A host waits for one answer before it asks again; a host that floods
/// loses answers, which is counted.
pub const ANSWER_QUEUE: usize = 4;

/// Heartbeat: once a second tells silence from absence within two.
pub const HEALTH_TICKS: u64 = 1_000_000;

/// Hello: every ten seconds, so that a recording begun in the middle has its scale soon.
pub const HELLO_TICKS: u64 = 10_000_000;

/// Slow readings are sent together once the first of them is this old.
pub const SLOW_REPORT_TICKS: u64 = 100_000;

/// First readings of the slow channels are this far apart, so that a poll never reads two.
pub const SLOW_STAGGER_TICKS: u64 = 10_000;

/// Edges closer than this to the one before are bounce: 2 kHz is four times what the largest
/// meter gives at its greatest flow (500 Hz: 5000 pulses/L at 6 L/min).
pub const DEBOUNCE_TICKS: u32 = 500;

/// Presses of the button closer than this are one press (common practice, no source: contacts bounce
/// for up to 20 ms, a person cannot press five times a second on purpose).
pub const BUTTON_TICKS: u64 = 200_000;

/// Longest command frame: version, kind, id 3, code 1, argument 10, stuffing 1, check 5. Anything
/// longer is not for this device.
pub const COMMAND_FRAME_BYTES: usize = 22;

/// Sample ticks that may fail to come before the board should stop feeding its watchdog.
pub const WATCHDOG_PERIODS: u64 = 50;

/// Ticks between samples at a rate; the exact rate is the ticks' inverse.
#[must_use]
pub const fn period_ticks(sample_rate_hz: u16) -> u32 {
    let rate_hz = if sample_rate_hz == 0 {
        1
    } else {
        sample_rate_hz as u32
    };
    (tipcurve_protocol::ticks::TICKS_PER_SECOND + rate_hz / 2) / rate_hz
}

/// Samples in a full block at a period: [`BLOCK_TICKS`] of them, at most what a block holds.
#[must_use]
pub const fn samples_per_block(period_ticks: u32) -> usize {
    let fitting = match BLOCK_TICKS.checked_div(period_ticks) {
        Some(0) | None => 1,
        Some(fitting) => fitting as usize,
    };
    if fitting < MAX_CODES {
        fitting
    } else {
        MAX_CODES
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn periods_and_blocks_at_the_usual_rates() {
        for (rate_hz, period, samples) in [
            (10, 100_000, 5),
            (100, 10_000, 50),
            (300, 3_333, 150),
            (500, 2_000, 250),
            (1_000, 1_000, 256),
        ] {
            assert_eq!(period_ticks(rate_hz), period);
            assert_eq!(samples_per_block(period), samples);
        }
        assert_eq!(period_ticks(0), 1_000_000);
        assert_eq!(samples_per_block(0), 1);
        assert_eq!(samples_per_block(u32::MAX), 1);
    }
}
