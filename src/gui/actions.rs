//! Every verb of the window: its words and its key. Buttons, keys, menus and the help come from here.
use crate::survey::Code;
use std::path::PathBuf;

use egui::{Key, KeyboardShortcut, Modifiers};

use super::keys::DIGITS;
use super::settings::Settings;
pub use super::station_words::{RunVerb, Words};
use super::viewing::Viewing;
use crate::desk::Saved;
use crate::limits::Limits;
use crate::measure::Span;
use crate::rig::{Half, Place, Rig};
pub use crate::survey::Station;
use crate::trim::ZonePlace;
use crate::wire::Role;

/// What a person does to the virtual board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Touch {
    /// Leads a stick to a place in units of travel (right and away positive), or lets it spring back.
    Stick(Half, Option<(f64, f64)>),
    /// Pulls a trigger to a share of its travel, or lets it go.
    Trigger(Half, Option<f64>),
    /// Presses a button once.
    Press(u8),
}

/// What a person can have done. Stations return actions; one place applies them.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Open a station.
    Show(Station),
    /// Show or hide the list of keys.
    Help,
    /// Light, dark, as the system has it: the next one.
    NextTheme,
    /// Tones of the guided run on or off.
    Tones,
    /// Make everything larger (+1) or smaller (−1) by a tenth; 0 = back to 100 %.
    Scale(i8),
    /// Connect to an address as typed.
    Connect(String),
    /// Let go of the link; what was recorded stays.
    Disconnect,
    /// Begin to record the live link, or close its session file.
    Record,
    /// Keep these choices.
    Keep(Box<Settings>),
    /// Choose a file to open.
    Choose,
    /// Stop reading a file; what has been read stays.
    StopOpening,
    /// Open a session or a log.
    Open(PathBuf),
    /// Send a line to the board.
    Send(String),
    /// Give a field another meaning.
    SetRole {
        /// Which field, counted from 0.
        field: usize,
        /// Its meaning.
        role: Role,
    },
    /// Set a finding aside (code, place) with a reason; without one it counts again.
    CheckOff(Code, Place, String),
    /// Put the names that the roll-call found in force.
    TakeNames,
    /// Move the virtual board by hand.
    Hand(Touch),
    /// Build a board with a hidden fault, to be named.
    Practise,
    /// Name the fault of the board under practice.
    NameFault(String),
    /// Put the board under practice away.
    LeavePractice,
    /// A step of the guided run.
    Run(RunVerb),
    /// Back to the review from a station that was looked at meanwhile.
    Review,
    /// Play or pause.
    Play,
    /// Next faster or slower speed.
    Speed(i8),
    /// Stay at the newest frame.
    Follow,
    /// Go to a time, µs.
    Seek(u64),
    /// Step by a time, µs.
    Step(i64),
    /// Set a mark here.
    Mark,
    /// Hold the traces while recording goes on, or let them follow again.
    Freeze,
    /// Zoom the traces in (+1) or out (−1).
    Zoom(i8),
    /// Show a span in the traces.
    Inspect(Span),
    /// Look at something else.
    View(Viewing),
    /// Choose a dead zone, counts; `None` = as proposed.
    ChooseZone(ZonePlace, Option<f64>),
    /// Use the correction offered for a stick, or leave it.
    Correct(Half, bool),
    /// Put another parts list in force.
    SetRig(Box<Rig>),
    /// Judge by other bands; `None` = the usual ones.
    SetLimits(Option<Box<Limits>>),
    /// Write an output of the newest results.
    Save(Saved),
    /// Save outputs into this folder from now on.
    SaveInto(PathBuf),
    /// Choose a record of constants to prove a flashed board against.
    ChooseRecord,
    /// Take this record.
    TakeRecord(PathBuf),
    /// Take the constants of the session under work as the record.
    TakeOwnConstants,
    /// Put the record away.
    PutRecordAway,
    /// Write the proof.
    SaveProof,
    /// Put text on the clipboard.
    Copy(String),
    /// Put a notice away.
    PutAway(u64),
    /// Take back the last edit or accepted step.
    Undo,
    /// Do it again.
    Redo,
    /// Save a picture of the station.
    Picture,
    /// Close the window.
    Quit,
}

const fn key(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const SHIFT_CTRL: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

impl Action {
    /// Every action that needs no further words, in the order of the help.
    pub fn all() -> Vec<Action> {
        let mut all: Vec<Action> = Station::ALL.iter().map(|p| Action::Show(*p)).collect();
        let run = [RunVerb::Start, RunVerb::Accept, RunVerb::Redo, RunVerb::Skip, RunVerb::Stop];
        all.extend(run.map(Action::Run));
        all.extend([
            Action::Review,
            Action::TakeNames,
            Action::Practise,
            Action::LeavePractice,
            Action::Choose,
            Action::StopOpening,
            Action::Disconnect,
            Action::Record,
        ]);
        all.extend(Saved::ALL.map(Action::Save));
        all.extend([
            Action::ChooseRecord,
            Action::TakeOwnConstants,
            Action::PutRecordAway,
            Action::SaveProof,
            Action::Play,
            Action::Step(-1_000_000),
            Action::Step(1_000_000),
            Action::Speed(-1),
            Action::Speed(1),
            Action::Follow,
            Action::Mark,
            Action::Undo,
            Action::Redo,
            Action::Picture,
            Action::Freeze,
            Action::Zoom(1),
            Action::Zoom(-1),
        ]);
        all.extend(Viewing::ALL.map(Action::View));
        all.extend([Action::NextTheme, Action::Tones]);
        all.extend([1, -1, 0].map(Action::Scale));
        all.extend([Action::Help, Action::Quit]);
        all
    }

    /// What stands on its button; `…` when more input follows.
    pub fn label(&self) -> &'static str {
        match self {
            Action::Show(place) => place.title(),
            Action::Help => "Help",
            Action::NextTheme => "Light or dark",
            Action::Tones => "Tones in the run",
            Action::Scale(1..) => "Larger",
            Action::Scale(0) => "Normal size",
            Action::Scale(_) => "Smaller",
            Action::Connect(_) => "Connect",
            Action::Disconnect => "Disconnect",
            Action::Record => "Record or stop",
            Action::Keep(_) => "Keep choices",
            Action::Choose => "Open…",
            Action::StopOpening => "Stop reading",
            Action::Open(_) => "Open",
            Action::Send(_) => "Send",
            Action::SetRole { .. } => "Set role",
            Action::CheckOff(..) => "Checked, ignore…",
            Action::TakeNames => "Take the names",
            Action::Practise => "Practise",
            Action::NameFault(_) => "Name it",
            Action::LeavePractice => "Leave practice",
            Action::Hand(Touch::Press(_)) => "Press it",
            Action::Hand(_) => "Move by hand",
            Action::Run(verb) => verb.label(),
            Action::Review => "Back to the review",
            Action::Play => "Play or pause",
            Action::Speed(1..) => "Faster",
            Action::Speed(_) => "Slower",
            Action::Follow => "Follow newest",
            Action::Seek(_) => "Go to",
            Action::Step(0..) => "Step forward",
            Action::Step(_) => "Step back",
            Action::Mark => "Set mark",
            Action::Freeze => "Freeze traces",
            Action::Zoom(1..) => "Zoom in",
            Action::Zoom(_) => "Zoom out",
            Action::Inspect(_) => "Show me",
            Action::View(verb) => verb.label(),
            Action::ChooseZone(..) => "Choose dead zone",
            Action::Correct(..) => "Use the correction",
            Action::SetRig(_) => "Change the parts list",
            Action::SetLimits(_) => "Change the limits",
            Action::Save(Saved::Header) => "Save header",
            Action::Save(Saved::Sheet) => "Save sheet",
            Action::Save(Saved::Trim) => "Save constants",
            Action::Save(Saved::Figures) => "Save figures",
            Action::SaveInto(_) => "Save into",
            Action::ChooseRecord => "Open record…",
            Action::TakeRecord(_) => "Take record",
            Action::TakeOwnConstants => "Take these constants",
            Action::PutRecordAway => "Put record away",
            Action::SaveProof => "Save proof",
            Action::Copy(_) => "Copy",
            Action::PutAway(_) => "Put away",
            Action::Undo => "Undo",
            Action::Redo => "Redo",
            Action::Picture => "Save picture",
            Action::Quit => "Quit",
        }
    }

    /// One sentence on what it does.
    pub fn hint(&self) -> &'static str {
        match self {
            Action::Show(place) => place.hint(),
            Action::Help => "Show or hide this list",
            Action::NextTheme => "Light, dark, or as the system has it",
            Action::Tones => "The guided run sounds what it asks and what it refuses",
            Action::Scale(_) => "Size of everything in the window",
            Action::Connect(_) => "Open the source and read from it",
            Action::Disconnect => "Let go of the source; what was recorded stays",
            Action::Record => "Write the live link into a session file, or close that file",
            Action::Keep(_) => "Keep these choices from now on",
            Action::StopOpening => "Stop reading the file; what has been read so far stays",
            Action::Choose => "Open a session or a text log of a board's output",
            Action::Open(_) => "Open this file",
            Action::Send(_) => "Send the line to the board; it is logged as sent",
            Action::SetRole { .. } => "Say what the field means",
            Action::CheckOff(..) => {
                "Set the finding aside with a reason, which goes into the record"
            }
            Action::TakeNames => "Roles, signs and button order as the roll-call found them",
            Action::Practise => "A virtual board with a hidden fault: find it and name it",
            Action::NameFault(_) => "Say what is wrong; then the findings and the cause come out",
            Action::LeavePractice => "Put the practice board away",
            Action::Hand(Touch::Press(_)) => "Press this button of the virtual board once",
            Action::Hand(_) => "Drag the virtual board's control; it springs back when let go",
            Action::Run(verb) => verb.hint(),
            Action::Review => "Show the verdicts of the run that waits for its end",
            Action::Play => "Let the session run from the present place",
            Action::Speed(_) => "Speed of playing, a quarter to 32 times",
            Action::Follow => "Stay at the newest frame",
            Action::Seek(_) => "Go to this time",
            Action::Step(_) => "One second along the session",
            Action::Mark => "Set a mark at the present place",
            Action::Freeze => "Hold the traces while recording goes on",
            Action::Zoom(_) => "Length of time that the traces show",
            Action::Inspect(_) => "Show where in the session this came from",
            Action::View(verb) => verb.hint(),
            Action::ChooseZone(..) => "Use this dead zone in place of the proposed one",
            Action::Correct(..) => "Take skew and rotation out by a 2×2 correction, or leave it",
            Action::SetRig(_) => "Change what is said of the controller's parts",
            Action::SetLimits(_) => "Judge the figures by these bands from now on",
            Action::Save(Saved::Header) => "Write the constants as a C header",
            Action::Save(Saved::Sheet) => "Write the sheet with all figures as one HTML file",
            Action::Save(Saved::Trim) => "Write the constants with the readings behind them",
            Action::Save(Saved::Figures) => "Write every figure for a machine to read, as JSON",
            Action::ChooseRecord => "Choose the constants that the flashed board is held against",
            Action::TakeRecord(_) => "Hold sessions against these constants",
            Action::TakeOwnConstants => {
                "Hold the session that comes next against the constants of this one"
            }
            Action::PutRecordAway => "Hold sessions against nothing",
            Action::SaveProof => "Write every check for a machine to read, as JSON",
            Action::SaveInto(_) => "Save outputs into this folder from now on",
            Action::Copy(_) => "Put it on the clipboard",
            Action::PutAway(_) => "Put the notice away",
            Action::Undo => "Take back the last change, or the last step accepted or skipped",
            Action::Redo => "Do again what was undone",
            Action::Picture => "Write a picture of the window beside the other outputs",
            Action::Quit => "Close the window; a recording is closed cleanly",
        }
    }

    /// Its key, where it has one.
    pub fn shortcut(&self) -> Option<KeyboardShortcut> {
        Some(match self {
            Action::Show(place) => key(*DIGITS.get(place.index())?),
            Action::Help => key(Key::F1),
            Action::NextTheme => ctrl(Key::T),
            Action::Tones => KeyboardShortcut::new(SHIFT_CTRL, Key::T),
            Action::Scale(1..) => ctrl(Key::Plus),
            Action::Scale(0) => ctrl(Key::Num0),
            Action::Scale(_) => ctrl(Key::Minus),
            Action::Disconnect => ctrl(Key::D),
            Action::Record => ctrl(Key::R),
            Action::Choose => ctrl(Key::O),
            Action::StopOpening => ctrl(Key::Period),
            Action::Run(verb) => key(verb.key()),
            Action::Review => key(Key::R),
            Action::TakeNames => key(Key::T),
            Action::Practise => ctrl(Key::B),
            Action::LeavePractice => KeyboardShortcut::new(SHIFT_CTRL, Key::B),
            Action::Play => key(Key::P),
            Action::Speed(1..) => key(Key::CloseBracket),
            Action::Speed(_) => key(Key::OpenBracket),
            Action::Follow => key(Key::L),
            Action::Step(0..) => key(Key::Period),
            Action::Step(_) => key(Key::Comma),
            Action::Mark => key(Key::M),
            Action::Freeze => key(Key::F),
            Action::View(verb) => verb.shortcut(),
            Action::Zoom(1..) => key(Key::Plus),
            Action::Zoom(_) => key(Key::Minus),
            Action::Save(Saved::Header) => ctrl(Key::S),
            Action::Save(Saved::Sheet) => KeyboardShortcut::new(SHIFT_CTRL, Key::S),
            Action::Save(Saved::Trim) => ctrl(Key::E),
            Action::Save(Saved::Figures) => ctrl(Key::J),
            Action::ChooseRecord => KeyboardShortcut::new(SHIFT_CTRL, Key::O),
            Action::TakeOwnConstants => ctrl(Key::K),
            Action::PutRecordAway => KeyboardShortcut::new(SHIFT_CTRL, Key::K),
            Action::SaveProof => KeyboardShortcut::new(SHIFT_CTRL, Key::J),
            Action::Undo => ctrl(Key::Z),
            Action::Redo => KeyboardShortcut::new(SHIFT_CTRL, Key::Z),
            Action::Picture => ctrl(Key::P),
            Action::Quit => ctrl(Key::Q),
            _ => return None,
        })
    }

    /// The key in words: "Ctrl+S"; empty when there is none.
    pub fn key_words(&self, ctx: &egui::Context) -> String {
        let words = self.shortcut().map_or(String::new(), |s| ctx.format_shortcut(&s));
        let signs = [("Plus", "+"), ("Minus", "\u{2212}"), ("Period", "."), ("Comma", ",")];
        signs.into_iter().fold(words, |words, (name, sign)| words.replace(name, sign))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things() {
        let all = Action::all();
        for (k, a) in all.iter().enumerate() {
            for b in &all[k + 1..] {
                assert!(a.shortcut() != b.shortcut(), "{a:?} and {b:?}");
            }
        }
    }

    #[test]
    fn every_verb_without_further_words_has_a_key() {
        for action in Action::all() {
            assert!(action.shortcut().is_some(), "{action:?} has no key");
        }
    }

    #[test]
    fn words_follow_the_writing_rules() {
        for action in Action::all() {
            for text in [action.label(), action.hint()] {
                assert!(text.starts_with(char::is_uppercase), "{text}");
                assert!(!text.ends_with('.'), "no full stop after one sentence: {text}");
                let capitals =
                    text.split(' ').skip(1).filter(|w| w.starts_with(char::is_uppercase));
                let allowed = ["A", "B", "C", "HTML", "JSON"];
                assert!(capitals.clone().all(|w| allowed.contains(&w)), "sentence case: {text}");
            }
        }
    }
}
