//! What leaves: C header, sheet, data. Pure functions to text.
