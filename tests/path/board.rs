//! The virtual board keeps its promises.
