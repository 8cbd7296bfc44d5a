//! Chip drivers from the registry behind the sensor traits of the core, for every board.
//!
//! In: a bus of `embedded-hal`. Out: raw codes, whose scale [`channels::table`] declares. No pins, no
//! interrupts, no arithmetic on readings. Each adapter sets its chip up at the first reading and again after
//! every error, so that a chip that lost its supply for a moment comes back by itself. An error costs the
//! reading and is counted by the core; the other sensors go on.
#![no_std]

pub mod air;
pub mod bus_clear;
pub mod caught;
pub mod channels;
pub mod coating;
pub mod exchange;
mod presence;
pub mod pressure_adc;
pub mod slow;
pub mod supply;
