//! Wire format of the tipcurve logger.
#![no_std]
