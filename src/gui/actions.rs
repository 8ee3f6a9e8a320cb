//! Every verb of the window, once: its words, its key and where it is applied.
use crate::survey::Code;
use std::path::PathBuf;

use egui::{Key, KeyboardShortcut, Modifiers};
use serde::{Deserialize, Serialize};

use super::settings::Settings;
use super::verbs::{Words, verbs};
use crate::desk::{Saved, Sight};
use crate::limits::Limits;
use crate::measure::Span;
use crate::rig::{Half, Place, Rig};
use crate::trim::ZonePlace;
use crate::wire::Role;

/// What a person does to the virtual board with the mouse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Touch {
    /// Leads a stick to a place in units of travel (right and away positive), or lets it spring back.
    Stick(Half, Option<(f64, f64)>),
    /// Pulls a trigger to a share of its travel, or lets it go.
    Trigger(Half, Option<f64>),
}

const PLAIN: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const ALT: Modifiers = Modifiers::ALT;
const CTRL: Modifiers = Modifiers::COMMAND;
const SHIFT_CTRL: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

verbs! {
    /// Open a station: they stand in the order of the work.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
    Show(Screen) {
        #[default]
        Link PLAIN Num1 "Link" "Source, recognition, last lines, fields and their roles";
        Wiring PLAIN Num2 "Wiring" "What answers each control, and what is wrong";
        Traces PLAIN Num3 "Traces" "Any channels over time, with cursors";
        Sticks PLAIN Num4 "Sticks" "Reach by direction, rests and dead zone";
        Triggers PLAIN Num5 "Triggers" "Travel and thresholds";
        Buttons PLAIN Num6 "Buttons" "Contacts, bounce and doubles";
        Trim PLAIN Num7 "Trim" "What the constants cost and do, and the header";
        Proof PLAIN Num8 "Proof" "The flashed board against the record of its constants";
        Sheet PLAIN Num9 "Sheet" "The whole record, ready to be saved";
    }

    /// A step of the guided run.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    Run(RunVerb) {
        Start PLAIN G "Start guided run" "Measure the whole controller, one prompt at a time";
        Accept PLAIN Space "Accept" "Take what was gathered and go on; at the end, save the header";
        Redo PLAIN Backspace "Redo step" "Throw the step's data away and do it again";
        Skip PLAIN N "Skip step" "Leave this step out";
        Stop PLAIN Escape "Stop run" "End the run; what was recorded stays";
        Review PLAIN R "Back to the review" "Show the verdicts of the run that waits for its end";
    }

    /// What the session under work comes from.
    #[derive(Clone, Debug, PartialEq)]
    Link(LinkVerb) {
        Choose CTRL O "Open…" "Open a session or a text log of a board's output";
        StopOpening CTRL Period "Stop reading"
            "Stop reading the file; what has been read so far stays";
        Open(PathBuf) "Open" "Open this file";
        Connect(String) "Connect" "Open the source and read from it";
        Disconnect CTRL D "Disconnect" "Let go of the source; what was recorded stays";
        HandOver SHIFT_CTRL D "Hand over the port"
            "Let another program have the port, for an upload; asked again, take it back";
        Record CTRL R "Record or stop"
            "Write the live link into a session file, or close that file";
        KeepLast CTRL L "Keep the last minutes"
            "Write the last five minutes of the recording into a file of their own";
        Send(String) "Send" "Send the line to the board; it is logged as sent";
        Hand(Touch) "Move by hand" "Drag the virtual board's control; it springs back when let go";
        Press(u8) "Press it" "Press this button of the virtual board once";
        Practise CTRL B "Practise" "A virtual board with a hidden fault: find it and name it";
        NameFault(String) "Name it" "Say what is wrong; then the findings and the cause come out";
        LeavePractice SHIFT_CTRL B "Leave practice" "Put the practice board away";
    }

    /// What changes the document; can be undone.
    #[derive(Clone, Debug, PartialEq)]
    Edit(EditVerb) {
        /// Field, counted from 0, and role.
        SetRole(usize, Role) "Set role" "Say what the field means";
        /// Code and place of the finding, and the reason; without one it counts again.
        CheckOff(Code, Place, String) "Checked, ignore…"
            "Set the finding aside with a reason, which goes into the record";
        TakeNames PLAIN T "Take the names"
            "Roles, signs and button order as the roll-call found them";
        /// Counts; `None` = as proposed.
        ChooseZone(ZonePlace, Option<f64>) "Choose dead zone"
            "Use this dead zone in place of the proposed one";
        Correct(Half, bool) "Use the correction"
            "Take the axes' angle and rotation out by a 2×2 correction, or leave it";
        SetRig(Box<Rig>) "Change the parts list"
            "Change what is said of the controller's parts";
        /// `None` = the usual ones.
        SetLimits(Option<Box<Limits>>) "Change the limits"
            "Judge the figures by these bands from now on";
        Mark PLAIN M "Set mark" "Set a mark at the present place";
        Undo CTRL Z "Undo" "Take back the last change, or the last step accepted or skipped";
        Redo SHIFT_CTRL Z "Redo" "Do again what was undone";
    }

    /// What is written out, and what is proved against.
    #[derive(Clone, Debug, PartialEq)]
    Output(OutputVerb) {
        /// Write an output of the newest results.
        Save(Saved) {
            (Saved::Header) CTRL S "Save header" "Write the constants as a C header";
            (Saved::Sheet) SHIFT_CTRL S "Save sheet"
                "Write the sheet with all figures as one HTML file";
            (Saved::Trim) CTRL E "Save constants"
                "Write the constants with the readings behind them";
            (Saved::Figures) CTRL J "Save figures"
                "Write every figure for a machine to read, as JSON";
        };
        SaveInto(PathBuf) "Save into" "Save outputs into this folder from now on";
        ChooseRecord SHIFT_CTRL O "Open record…"
            "Choose the constants that the flashed board is held against";
        TakeRecord(PathBuf) "Take record" "Hold sessions against these constants";
        TakeOwnConstants CTRL K "Take these constants"
            "Hold the session that comes next against the constants of this one";
        PutRecordAway SHIFT_CTRL K "Put record away" "Hold sessions against nothing";
        SaveProof SHIFT_CTRL J "Save proof" "Write every check for a machine to read, as JSON";
        Picture CTRL P "Save picture" "Write a picture of the window beside the other outputs";
        Copy(String) "Copy" "Put it on the clipboard";
        CopyFigures SHIFT_CTRL C "Copy figures"
            "Put the figures of the station on the clipboard, as a table";
    }

    /// Where in the session is looked.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    Time(TimeVerb) {
        Play PLAIN P "Play or pause" "Let the session run from the present place";
        /// One second back or forward.
        Step(bool) {
            (false) PLAIN Comma "Step back"
                "One second along the session, or as many rows where nothing tells the time";
            (true) PLAIN Period "Step forward"
                "One second along the session, or as many rows where nothing tells the time";
        };
        /// Slower or faster.
        Speed(bool) {
            (false) PLAIN OpenBracket "Slower" "Speed of playing, a quarter to 32 times";
            (true) PLAIN CloseBracket "Faster" "Speed of playing, a quarter to 32 times";
        };
        Follow PLAIN L "Follow newest" "Stay at the newest frame";
        /// µs.
        Seek(u64) "Go to" "Go to this place";
        /// Before or behind the play head.
        Jump(Sight, bool) {
            (Sight::Mark, false) PLAIN PageUp "Previous mark"
                "Go along the session from mark to mark";
            (Sight::Mark, true) PLAIN PageDown "Next mark"
                "Go along the session from mark to mark";
            (Sight::Finding, false) SHIFT PageUp "Previous finding"
                "Go along the session from finding to finding";
            (Sight::Finding, true) SHIFT PageDown "Next finding"
                "Go along the session from finding to finding";
        };
    }

    /// How the traces look; the station keeps it to itself.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    Trace(TraceVerb) {
        Freeze PLAIN F "Freeze traces" "Hold the traces while recording goes on";
        /// Out or in.
        Zoom(bool) {
            (true) PLAIN Plus "Zoom in" "Length of the stretch that the traces show";
            (false) PLAIN Minus "Zoom out" "Length of the stretch that the traces show";
        };
        Inspect(Span) "Show me" "Show where in the session this came from";
        CursorA PLAIN A "Cursor A here" "Set a cursor of the traces at the play head";
        CursorB PLAIN B "Cursor B here" "Set a cursor of the traces at the play head";
        BetweenCursors PLAIN Z "Between cursors"
            "Show the stretch between both cursors of the traces";
        Motion PLAIN S "Scroll or sweep"
            "Let live traces scroll, or write over a picture that stands";
        Forms PLAIN U "Counts, travel, output"
            "Show inputs as counts, as travel, through the trim, or all three";
        Shared PLAIN H "Shared lanes" "One lane a stick, or one an input";
        /// Above or below.
        Lane(bool) {
            (false) PLAIN K "Lane above" "Choose the lane whose vertical range keys change";
            (true) PLAIN J "Lane below" "Choose the lane whose vertical range keys change";
        };
        Fix PLAIN V "Fixed range" "Fix the lane's vertical range, or let it follow the data";
        /// Double the range, or halve it.
        Tall(bool) {
            (true) ALT Plus "Magnify lane"
                "Vertical range of the lane, of all lanes where none is chosen";
            (false) ALT Minus "Reduce lane"
                "Vertical range of the lane, of all lanes where none is chosen";
        };
        /// Down or up.
        Raise(bool) {
            (true) ALT ArrowUp "Range up" "Move the lane's vertical range";
            (false) ALT ArrowDown "Range down" "Move the lane's vertical range";
        };
    }

    /// How the stations of the parts look; each keeps it to itself.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    Part(PartVerb) {
        /// Smaller or larger.
        Zone(bool) {
            (false) ALT ArrowLeft "Smaller dead zone"
                "Change the dead zone that is shown by half a count";
            (true) ALT ArrowRight "Larger dead zone"
                "Change the dead zone that is shown by half a count";
        };
        ProposedZone ALT Home "As proposed" "Go back to the dead zone that the releases call for";
        Circles PLAIN O "Reference circles" "Show the circles that roundness is measured against";
        /// Back or on.
        Go(bool) {
            (false) SHIFT X "Previous part"
                "Go on to another button, rest or input of the station";
            (true) PLAIN X "Next part" "Go on to another button, rest or input of the station";
        };
    }

    /// The window itself and what it remembers.
    #[derive(Clone, Debug, PartialEq)]
    Window(WindowVerb) {
        Keep(Box<Settings>) "Keep choices" "Keep these choices from now on";
        PutAway(u64) "Put away" "Put the notice away";
        NextTheme CTRL T "Light or dark" "Light, dark, or as the system has it";
        Tones SHIFT_CTRL T "Tones in the run"
            "The guided run sounds what it asks and what it refuses";
        Larger CTRL Plus "Larger" "Size of everything in the window";
        Smaller CTRL Minus "Smaller" "Size of everything in the window";
        NormalSize CTRL Num0 "Normal size" "Size of everything in the window";
        Help PLAIN F1 "Help" "Show or hide this list";
        Quit CTRL Q "Quit" "Close the window; a recording is closed cleanly";
    }
}

impl Screen {
    /// Screen in the rail.
    pub fn index(self) -> usize {
        self as usize
    }
}

impl Action {
    /// What stands on its button; `…` when more input follows.
    pub fn label(&self) -> &'static str {
        self.words().label
    }

    /// One sentence on what it does.
    pub fn hint(&self) -> &'static str {
        self.words().hint
    }

    /// Its key, where it has one.
    pub fn shortcut(&self) -> Option<KeyboardShortcut> {
        self.words().key
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
