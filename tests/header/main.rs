//! The generated header under real compilers, against `trim::apply`.
mod compilers; // which are here, how they are run
mod drawn; // trims drawn from a seed
mod equal; // C and C++ give what the arithmetic here gives, for every code
mod samples; // whole sessions, from bytes to the compiled header
mod refused; // what must not compile, and what must be absent
mod warnings; // no warning under any standard, used or not, included twice
