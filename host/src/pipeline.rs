//! A recording to its findings: the order of the steps, nothing else.
