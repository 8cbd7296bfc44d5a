//! What a person sees: decides nothing, computes nothing.
