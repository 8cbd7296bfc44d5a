//! Linear plus quadratic form by weighted least squares with errors in both coordinates.
