//! Boards with a known truth, solved.
