//! Hostile and broken input through the command line.
