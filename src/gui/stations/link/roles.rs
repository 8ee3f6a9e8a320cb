//! The words of the roles that a field may have, and the list to choose from.
use crate::rig::{AxisId, Half};
use crate::wire::Role;

/// What a role is called.
pub fn words(role: Role) -> String {
    role.words()
}

/// Roles offered for a field, the likeliest first; `buttons` = how many single buttons are offered.
pub fn choices(buttons: u8) -> Vec<Role> {
    let mut all = vec![Role::Ignore, Role::Seq, Role::Clock];
    all.extend(AxisId::ALL.map(Role::Axis));
    all.push(Role::Buttons);
    all.extend((0..buttons).map(Role::Button));
    all.extend([Role::Vcc, Role::Temperature]);
    all.extend(Half::ALL.map(Role::RemoteSeq));
    all.extend(Half::ALL.map(Role::RemoteAge));
    all.extend([Role::ResetCause, Role::Duty(0), Role::Duty(1), Role::Light(0), Role::Light(1)]);
    all.extend(AxisId::ALL.map(Role::OutAxis));
    all.extend([Role::OutButtons, Role::Identity, Role::Checksum]);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_choice_has_words_of_its_own() {
        let all: Vec<String> = choices(16).into_iter().map(words).collect();
        let distinct: std::collections::BTreeSet<&String> = all.iter().collect();
        assert_eq!(distinct.len(), all.len());
    }
}
