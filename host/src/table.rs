//! Findings to data frames and files: polars stays here and in `interchange`.
