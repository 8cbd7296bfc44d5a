//! Portable core of the tipcurve logger firmware.
#![no_std]
