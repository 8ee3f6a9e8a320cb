//! The generated header under real compilers, against `trim::apply`.
