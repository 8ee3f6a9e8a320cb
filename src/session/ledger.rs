//! What counter and clock say of completeness: lost, duplicated, resets, gaps, unwrapped time.
