//! A mark of a session: what was asked, done or noticed, and when. One type from the prompt to the file.
use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{Control, Task};

/// Text of a task's mark that starts it again: earlier attempts at that task do not count.
const AGAIN: &str = "again";

/// The first word of a mark: what it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Word {
    /// A task of the guided run is asked for; see [`Mark::again`].
    Task(Task),
    /// One control is asked for by name; see [`Mark::call`].
    Call,
    /// Several buttons are asked for at once; the text names them: `b0 b1 b4`.
    Chord,
    /// One push is asked for; the text is the direction in whole degrees, counter-clockwise as the
    /// person sees it, 0 = right, 90 = away from the person.
    Push,
    /// A command went to a motor or light; the text is the command.
    Drive,
    /// The prompts end.
    End,
    /// A person marked the place.
    Note,
    /// A finding was looked at; the text is its code, its place, and the reason to set it aside.
    Checked,
    /// Lines of a recording that is played are left out here.
    Damaged,
    /// Something for the board could not be sent.
    Unsent,
    /// The link went away by itself; the text names it.
    Gone,
    /// The port was closed for another program; the text names it.
    HandedOver,
    /// The link is not to be had: the text says why, once a reason.
    Absent,
    /// The link was opened again; the text says after how long and where.
    Back,
    /// Any other word; never one of the above.
    Other(String),
}

impl Word {
    const FIXED: [Word; 13] = [
        Word::Call,
        Word::Chord,
        Word::Push,
        Word::Drive,
        Word::End,
        Word::Note,
        Word::Checked,
        Word::Damaged,
        Word::Unsent,
        Word::Gone,
        Word::HandedOver,
        Word::Absent,
        Word::Back,
    ];

    /// As it stands in a file.
    pub fn as_str(&self) -> &str {
        match self {
            Word::Task(task) => task.word(),
            Word::Call => "call",
            Word::Chord => "chord",
            Word::Push => "push",
            Word::Drive => "drive",
            Word::End => "end",
            Word::Note => "note",
            Word::Checked => "checked",
            Word::Damaged => "damaged",
            Word::Unsent => "unsent",
            Word::Gone => "gone",
            Word::HandedOver => "handed-over",
            Word::Absent => "absent",
            Word::Back => "back",
            Word::Other(word) => word,
        }
    }
}

impl From<&str> for Word {
    fn from(word: &str) -> Word {
        let task = Task::from_word(word).map(Word::Task);
        let fixed = || Word::FIXED.into_iter().find(|w| w.as_str() == word);
        task.or_else(fixed).unwrap_or_else(|| Word::Other(word.to_owned()))
    }
}

/// µs of the host's clock since the recording began.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct HostUs(pub u64);

/// A mark. When it was set is a type of its own: not yet (`()`), by the host ([`HostUs`]), and what
/// the session and its tracks make of that.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark<At = ()> {
    /// When, or where.
    pub at: At,
    /// What it is.
    pub word: Word,
    /// Free text.
    pub text: String,
}

impl Mark {
    /// A mark that is not set yet.
    pub fn new(word: impl Into<Word>, text: impl Into<String>) -> Mark {
        Mark { at: (), word: word.into(), text: text.into() }
    }

    /// Asks for a task again.
    pub fn again(task: Task) -> Mark {
        Mark::new(Word::Task(task), AGAIN)
    }

    /// Asks for a control, by its name where that says more than its word.
    pub fn calling(control: Control, name: &str) -> Mark {
        let word = control.word();
        let named = matches!(control, Control::Button(_)) && name != word;
        Mark::new(Word::Call, if named { format!("{word} {name}") } else { word })
    }
}

impl<At> Mark<At> {
    /// The same at another time.
    pub fn set_at<To>(self, at: To) -> Mark<To> {
        Mark { at, word: self.word, text: self.text }
    }

    /// The task that it asks for.
    pub fn task(&self) -> Option<Task> {
        match self.word {
            Word::Task(task) => Some(task),
            _ => None,
        }
    }

    /// It ends what was asked for before: another task, or the end of the prompts.
    pub fn ends_task(&self) -> bool {
        matches!(self.word, Word::Task(_) | Word::End)
    }

    /// It starts its task again.
    pub fn is_again(&self) -> bool {
        self.text.trim() == AGAIN
    }

    /// The control that it calls for, and what that is called (empty when it says no name).
    pub fn call(&self) -> Option<(Control, &str)> {
        let text = Some(self.text.trim()).filter(|_| self.word == Word::Call)?;
        let (word, name) = text.split_once(' ').unwrap_or((text, ""));
        Some((Control::from_word(word)?, name.trim()))
    }
}

impl From<Word> for Mark {
    fn from(word: Word) -> Mark {
        Mark::new(word, "")
    }
}

impl<At> fmt::Display for Mark<At> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let gap = if self.text.is_empty() { "" } else { " " };
        write!(f, "{}{gap}{}", self.word.as_str(), self.text)
    }
}

impl<At: Serialize> Serialize for Mark<At> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        (&self.at, self.word.as_str(), &self.text).serialize(to)
    }
}

impl<'de, At: Deserialize<'de>> Deserialize<'de> for Mark<At> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let (at, word, text) = <(At, String, String)>::deserialize(from)?;
        Ok(Mark::new(word.as_str(), text).set_at(at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::AxisId;

    #[test]
    fn every_word_comes_back() {
        let tasks = Task::ALL.map(Word::Task).into_iter();
        for word in tasks.chain(Word::FIXED).chain([Word::Other("lamp".to_owned())]) {
            assert_eq!(Word::from(word.as_str()), word);
        }
    }

    #[test]
    fn a_call_gives_a_control_and_perhaps_a_name() {
        let called = |text: &str| Mark::new(Word::Call, text);
        assert_eq!(called("b3 left shoulder").call(), Some((Control::Button(3), "left shoulder")));
        assert_eq!(called("lx").call(), Some((Control::Axis(AxisId::Lx), "")));
        assert_eq!(called("zz top").call(), None);
        assert_eq!(Mark::new(Word::Note, "lx").call(), None);
        assert_eq!(Mark::calling(Control::Button(3), "north").to_string(), "call b3 north");
        assert_eq!(Mark::calling(Control::Button(3), "b3").to_string(), "call b3");
        assert_eq!(Mark::calling(Control::Axis(AxisId::Lx), "left stick right").text, "lx");
    }

    #[test]
    fn a_row_of_edits_is_a_triple() {
        let mark = Mark::new(Word::Note, "").set_at(7_usize);
        let text = ron::to_string(&mark).expect("a triple");
        assert_eq!(text, "(7,\"note\",\"\")");
        assert_eq!(ron::from_str::<Mark<usize>>(&text).expect("a triple"), mark);
    }
}
