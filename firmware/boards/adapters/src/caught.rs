//! What an interrupt caught, on its way to the core.
//!
//! Interrupts write, the main loop reads: neither waits for the other. The board brings the queue.

use tipcurve_firmware::{App, SensorError};

/// One thing that happened, with its time in device ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caught {
    /// A tick of the sample timer, with the reading taken in it.
    Sample(u64, Result<i32, SensorError>),
    /// An edge of the flow meter, by its captured time.
    Edge(u64),
    /// The button went down.
    Button(u64),
    /// A byte of the host.
    Byte(u64, u8),
}

impl Caught {
    /// Hands it to the core.
    pub fn hand_to(self, app: &mut App) {
        match self {
            Self::Sample(ticks, reading) => app.on_sample(ticks, reading),
            Self::Edge(ticks) => app.on_edge(ticks),
            Self::Button(ticks) => app.on_button(ticks),
            Self::Byte(ticks, byte) => app.on_rx_byte(ticks, byte),
        }
    }
}
