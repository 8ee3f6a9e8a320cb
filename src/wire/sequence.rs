//! Frame counters that wrap at 8, 16 or 32 bits.
