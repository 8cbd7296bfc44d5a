//! The rig that is not there: physics of its own, the firmware's own sampling code.
