//! Board clocks that wrap at 32 bits.
