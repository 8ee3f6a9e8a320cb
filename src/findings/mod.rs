//! Readings to named faults with evidence and remedy.
