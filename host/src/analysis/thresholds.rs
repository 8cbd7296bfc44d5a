//! Every decision limit with its reason. No logic.
