//! A recording folder to one [`super::Recording`], with everything that was lost.
