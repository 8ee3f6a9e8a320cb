//! Keys: what was pressed, taken out of the input before any widget sees it.
use super::actions::{Action, RunVerb};

/// The actions whose keys were pressed, taken out of the input before any widget sees them.
///
/// Keys without Ctrl are left alone while a person types into a field.
pub fn pressed(ctx: &egui::Context, run_active: bool) -> Vec<Action> {
    let typing = ctx.text_edit_focused();
    let mut found = Vec::new();
    // Longer chords first: Ctrl+Shift+S must not be taken for Ctrl+S, nor Alt+Plus for Plus.
    let mut all = Action::all();
    all.sort_by_key(|a| a.shortcut().is_none_or(|s| !(s.modifiers.shift || s.modifiers.alt)));
    for action in all {
        let Some(shortcut) = action.shortcut() else { continue };
        if typing && shortcut.modifiers.is_none() {
            continue;
        }
        // The run's own keys belong to focused widgets while there is no run.
        if matches!(&action, Action::Run(verb) if *verb != RunVerb::Start && !run_active) {
            continue;
        }
        if ctx.input_mut(|i| i.consume_shortcut(&shortcut)) {
            found.push(action);
        }
    }
    found
}
