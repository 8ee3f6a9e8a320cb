//! The framer under every cut and every kind of damage.
