//! The virtual board: truth to physics to bytes, and the scripted hand.
