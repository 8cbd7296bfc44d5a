//! An unmeasured tip from a measured one, crossed with the supply curve.
