//! Verbs that change what is looked at and nothing else: their words and keys.
use egui::{Key, KeyboardShortcut, Modifiers};

use crate::desk::Sight;

/// What is looked at otherwise; the station on screen, or the timeline, hears it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Viewing {
    /// Go to the mark or finding before (`false`) or behind (`true`) the play head.
    Jump(Sight, bool),
    /// Set cursor A (0) or B (1) of the traces at the play head.
    Cursor(u8),
    /// Show in the traces what lies between the cursors.
    BetweenCursors,
    /// Let the traces scroll, or sweep over a picture that stands.
    Motion,
    /// Show inputs as counts, travel, output, or all of them.
    Forms,
    /// Give each input its lane, or each stick one.
    Shared,
    /// The lane below (`true`) or above (`false`) is the one that keys act on.
    Lane(bool),
    /// Fix the vertical range of the lane, or let it follow the data.
    Fix,
    /// Halve (`true`) or double (`false`) the vertical range.
    Tall(bool),
    /// Move the vertical range up (`true`) or down (`false`).
    Raise(bool),
    /// A larger (`true`) or smaller (`false`) dead zone.
    Zone(bool),
    /// The dead zone as proposed.
    ProposedZone,
    /// Show or hide the reference circles of the sticks.
    Circles,
    /// The next (`true`) or previous (`false`) part of the station: button, rest, input.
    Part(bool),
    /// Put the figures of the station on the clipboard.
    Copy,
}

impl Viewing {
    /// All of them, in the order of the help.
    pub const ALL: [Viewing; 24] = [
        Viewing::Jump(Sight::Mark, false),
        Viewing::Jump(Sight::Mark, true),
        Viewing::Jump(Sight::Finding, false),
        Viewing::Jump(Sight::Finding, true),
        Viewing::Cursor(0),
        Viewing::Cursor(1),
        Viewing::BetweenCursors,
        Viewing::Motion,
        Viewing::Forms,
        Viewing::Shared,
        Viewing::Lane(false),
        Viewing::Lane(true),
        Viewing::Fix,
        Viewing::Tall(true),
        Viewing::Tall(false),
        Viewing::Raise(true),
        Viewing::Raise(false),
        Viewing::Zone(false),
        Viewing::Zone(true),
        Viewing::ProposedZone,
        Viewing::Circles,
        Viewing::Part(false),
        Viewing::Part(true),
        Viewing::Copy,
    ];

    /// What stands on its button.
    pub fn label(self) -> &'static str {
        match self {
            Viewing::Jump(Sight::Mark, false) => "Previous mark",
            Viewing::Jump(Sight::Mark, true) => "Next mark",
            Viewing::Jump(Sight::Finding, false) => "Previous finding",
            Viewing::Jump(Sight::Finding, true) => "Next finding",
            Viewing::Cursor(0) => "Cursor A here",
            Viewing::Cursor(_) => "Cursor B here",
            Viewing::BetweenCursors => "Between cursors",
            Viewing::Motion => "Scroll or sweep",
            Viewing::Forms => "Counts, travel, output",
            Viewing::Shared => "Shared lanes",
            Viewing::Lane(true) => "Lane below",
            Viewing::Lane(false) => "Lane above",
            Viewing::Fix => "Fixed range",
            Viewing::Tall(true) => "Magnify lane",
            Viewing::Tall(false) => "Reduce lane",
            Viewing::Raise(true) => "Range up",
            Viewing::Raise(false) => "Range down",
            Viewing::Zone(true) => "Larger dead zone",
            Viewing::Zone(false) => "Smaller dead zone",
            Viewing::ProposedZone => "As proposed",
            Viewing::Circles => "Reference circles",
            Viewing::Part(true) => "Next part",
            Viewing::Part(false) => "Previous part",
            Viewing::Copy => "Copy figures",
        }
    }

    /// One sentence on what it does.
    pub fn hint(self) -> &'static str {
        match self {
            Viewing::Jump(Sight::Mark, _) => "Go along the session from mark to mark",
            Viewing::Jump(Sight::Finding, _) => "Go along the session from finding to finding",
            Viewing::Cursor(_) => "Set a cursor of the traces at the play head",
            Viewing::BetweenCursors => "Show the stretch between both cursors of the traces",
            Viewing::Motion => "Let live traces scroll, or write over a picture that stands",
            Viewing::Forms => "Show inputs as counts, as travel, through the trim, or all three",
            Viewing::Shared => "One lane a stick, or one an input",
            Viewing::Lane(_) => "Choose the lane whose vertical range keys change",
            Viewing::Fix => "Fix the lane's vertical range, or let it follow the data",
            Viewing::Tall(_) => "Vertical range of the lane, of all lanes where none is chosen",
            Viewing::Raise(_) => "Move the lane's vertical range",
            Viewing::Zone(_) => "Change the dead zone that is shown by half a count",
            Viewing::ProposedZone => "Go back to the dead zone that the releases call for",
            Viewing::Circles => "Show the circles that roundness is measured against",
            Viewing::Part(_) => "Go on to another button, rest or input of the station",
            Viewing::Copy => "Put the figures of the station on the clipboard, as a table",
        }
    }

    /// Its key.
    pub fn shortcut(self) -> KeyboardShortcut {
        let on = KeyboardShortcut::new;
        let shift_ctrl = Modifiers::COMMAND.plus(Modifiers::SHIFT);
        match self {
            Viewing::Jump(Sight::Mark, false) => on(Modifiers::NONE, Key::PageUp),
            Viewing::Jump(Sight::Mark, true) => on(Modifiers::NONE, Key::PageDown),
            Viewing::Jump(Sight::Finding, false) => on(Modifiers::SHIFT, Key::PageUp),
            Viewing::Jump(Sight::Finding, true) => on(Modifiers::SHIFT, Key::PageDown),
            Viewing::Cursor(0) => on(Modifiers::NONE, Key::A),
            Viewing::Cursor(_) => on(Modifiers::NONE, Key::B),
            Viewing::BetweenCursors => on(Modifiers::NONE, Key::Z),
            Viewing::Motion => on(Modifiers::NONE, Key::S),
            Viewing::Forms => on(Modifiers::NONE, Key::U),
            Viewing::Shared => on(Modifiers::NONE, Key::H),
            Viewing::Lane(true) => on(Modifiers::NONE, Key::J),
            Viewing::Lane(false) => on(Modifiers::NONE, Key::K),
            Viewing::Fix => on(Modifiers::NONE, Key::V),
            Viewing::Tall(true) => on(Modifiers::ALT, Key::Plus),
            Viewing::Tall(false) => on(Modifiers::ALT, Key::Minus),
            Viewing::Raise(true) => on(Modifiers::ALT, Key::ArrowUp),
            Viewing::Raise(false) => on(Modifiers::ALT, Key::ArrowDown),
            Viewing::Zone(true) => on(Modifiers::ALT, Key::ArrowRight),
            Viewing::Zone(false) => on(Modifiers::ALT, Key::ArrowLeft),
            Viewing::ProposedZone => on(Modifiers::ALT, Key::Home),
            Viewing::Circles => on(Modifiers::NONE, Key::O),
            Viewing::Part(true) => on(Modifiers::NONE, Key::X),
            Viewing::Part(false) => on(Modifiers::SHIFT, Key::X),
            Viewing::Copy => on(shift_ctrl, Key::C),
        }
    }
}
