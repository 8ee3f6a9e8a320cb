//! Roles by the names that builders give to their fields.
use super::Role;

/// The role that a field's name stands for, if it is one of the usual spellings.
pub fn role_of_name(_name: &str) -> Option<Role> {
    None
}

pub(super) fn role_of_bytes(name: &[u8]) -> Option<Role> {
    role_of_name(std::str::from_utf8(name).ok()?)
}
