//! No words on the line: the window; words: one verb; the result becomes the exit code.
fn main() {}
