//! Names of the files in a recording folder.
