//! What the program says and reads at the terminal: the only place that prints.
