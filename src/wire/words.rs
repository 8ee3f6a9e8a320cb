//! Words that builders write before their numbers, and what several of them together mean.
use crate::rig::AxisId;

use super::Role;
use super::names::{plain, role_of_name};

/// What one word says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Says {
    Left,
    Right,
    Across,
    Along,
    Trigger,
    Buttons,
    /// A stick; which and which way others have to say.
    Stick,
    /// Nothing.
    Filler,
    /// Something else is meant than a reading of a control.
    Other,
}

/// The table. Case does not count.
const WORDS: [(Says, &str); 9] = [
    (Says::Left, "l left lh lhs 1 links linke gauche izquierda izq sinistra esquerda"),
    (Says::Right, "r right rh rhs 2 rechts rechte droite derecha der destra direita"),
    (Says::Across, "x h hor hori horz horiz horizontal quer"),
    (Says::Along, "y v ver vert vertical hoch"),
    (Says::Trigger, "t trig trigs trigger triggers lever levers abzug gachette gatillo grilletto"),
    (
        Says::Buttons,
        "buttons button btns btn keys switches switch sw mask bits pressed tasten boutons botones pulsanti",
    ),
    (
        Says::Stick,
        "stick sticks joystick joysticks thumbstick joy js j s analog axes axis adc thumb",
    ),
    (
        Says::Filler,
        "raw vr pot hall at is pos position value val values the of and pad pads counts in state",
    ),
    (
        Says::Other,
        "gyro accel acc imu mag out output target filtered filt smooth smoothed scaled norm min max mean avg \
     average old last prev previous centre center offset zero cal calib calibrated trim dead deadzone \
     motor rumble led light temp speed velocity delta diff \
         fps hz rate bat vbat batt battery cell soc rssi cpu load heap ram loops",
    ),
];

fn says(word: &str) -> Option<Says> {
    let fits = |(_, all): &&(Says, &str)| all.split(' ').any(|w| w == word);
    WORDS.iter().find(fits).map(|(says, _)| *says)
}

/// Lower-case parts of a name: `leftStick_x` gives left, stick, x.
fn parts(name: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut before = ' ';
    for c in name.chars() {
        let begins = c.is_ascii_uppercase() && before.is_ascii_lowercase();
        if !c.is_ascii_alphanumeric() || begins {
            parts.push(String::new());
        }
        if c.is_ascii_alphanumeric()
            && let Some(part) = parts.last_mut()
        {
            part.push(c.to_ascii_lowercase());
        }
        before = c;
    }
    parts.retain(|part| !part.is_empty());
    parts
}

/// Syllables of names without a gap between them (`lsx`, `VRy2`, `j1h`, `analogL`), longest first.
const SYLLABLES: [&str; 17] = [
    "analog", "stick", "joy", "raw", "trig", "vr", "js", "l", "r", "j", "s", "x", "y", "h", "v",
    "t", "z",
];

/// Takes a word that is not known apart into syllables and digits, where that leaves nothing over.
///
/// A side stands before the way (`lh`) or behind it as a number (`x2`); so `hr` stays what it is.
fn unglued(word: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = word;
    while !rest.is_empty() {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let taken = match digits {
            0 => SYLLABLES.into_iter().find(|s| rest.starts_with(s)).map_or(0, str::len),
            n => n,
        };
        if taken == 0 {
            return vec![word.to_owned()];
        }
        let (syllable, after) = rest.split_at(taken);
        // Beside x and y of a side its third reading is the trigger.
        found.push(if syllable == "z" { "t" } else { syllable }.to_owned());
        rest = after;
    }
    let place =
        |letters: &str| found.iter().position(|s| s.len() == 1 && letters.contains(s.as_str()));
    let backwards = place("hv").is_some_and(|way| place("lr").is_some_and(|side| side > way));
    if found.len() > 4 || backwards { vec![word.to_owned()] } else { found }
}

/// The role that words in a row stand for: by the usual spellings, else word by word.
///
/// A word that is not known counts for nothing, unless it is the last one.
pub(super) fn role_of_words(words: &[&str]) -> Option<Role> {
    let joined = words.join("_");
    if let Some(role) = role_of_name(&joined) {
        return Some(role);
    }
    // A label with its value is no name.
    let valued = joined
        .find([':', '=', '%'])
        .is_some_and(|at| joined[at..].bytes().any(|byte| byte.is_ascii_digit()));
    if valued {
        return None;
    }
    let apart = |part: String| match says(&part) {
        Some(_) => vec![part],
        None if part.len() < 2 => vec![part],
        None => unglued(&part),
    };
    let parts: Vec<String> = parts(&joined).into_iter().flat_map(apart).collect();
    if parts.len() < 2 && plain(&joined).len() < 3 {
        return None;
    }
    says(parts.last()?)?;
    let said: Vec<Says> = parts.iter().filter_map(|p| says(p)).collect();
    let has = |what: Says| said.contains(&what);
    if has(Says::Other) {
        return None;
    }
    let side = match (has(Says::Left), has(Says::Right)) {
        (true, false) => Some(false),
        (false, true) => Some(true),
        _ => None,
    };
    let way = match (has(Says::Across), has(Says::Along)) {
        (true, false) => Some(false),
        (false, true) => Some(true),
        _ => None,
    };
    match (side, way, has(Says::Trigger), has(Says::Buttons)) {
        (Some(right), None, true, false) => {
            Some(Role::Axis(if right { AxisId::Rt } else { AxisId::Lt }))
        }
        (Some(right), Some(along), false, false) => Some(Role::Axis(match (right, along) {
            (false, false) => AxisId::Lx,
            (false, true) => AxisId::Ly,
            (true, false) => AxisId::Rx,
            (true, true) => AxisId::Ry,
        })),
        (None, None, false, true) => Some(Role::Buttons),
        _ => None,
    }
}

/// True when a name says that something else is meant than a reading of a control.
pub(super) fn is_of_another(name: &str) -> bool {
    parts(name).iter().any(|part| says(part) == Some(Says::Other))
}

/// True for a trigger's name without a side.
pub(super) fn is_lever(name: &str) -> bool {
    says(name) == Some(Says::Trigger) && name.len() > 1
}

/// True when the words name sticks or axes in general, no side.
pub(super) fn are_sticks(words: &[&str]) -> bool {
    let parts: Vec<String> = words.iter().flat_map(|w| parts(w)).collect();
    let said = || parts.iter().filter_map(|p| says(p));
    said().any(|s| s == Says::Stick) && said().all(|s| matches!(s, Says::Stick | Says::Filler))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_together_mean_a_control() {
        for (words, role) in [
            ("Left stick x", Some(Role::Axis(AxisId::Lx))),
            ("joystick R at v", Some(Role::Axis(AxisId::Ry))),
            ("Triggers right", Some(Role::Axis(AxisId::Rt))),
            ("l trig", Some(Role::Axis(AxisId::Lt))),
            ("pressed keys", Some(Role::Buttons)),
            ("left gyro x", None),
            ("centre left x", None),
            ("left x offset", None),
            ("left motor", None),
            ("motor left x", None),
            ("left", None),
            ("trig x", None),
            ("lsx", Some(Role::Axis(AxisId::Lx))),
            ("VRy2", Some(Role::Axis(AxisId::Ry))),
            ("RV", Some(Role::Axis(AxisId::Ry))),
            ("L_HORZ", Some(Role::Axis(AxisId::Lx))),
            ("j1y", Some(Role::Axis(AxisId::Ly))),
            ("T2", Some(Role::Axis(AxisId::Rt))),
            ("Lz", Some(Role::Axis(AxisId::Lt))),
            ("Rechts_Y", Some(Role::Axis(AxisId::Ry))),
            ("hr", None),
            ("z left", None),
            ("LY:-1%", None),
            ("L2", None),
            ("sys", None),
            ("vs", None),
        ] {
            let all: Vec<&str> = words.split(' ').collect();
            assert_eq!(role_of_words(&all), role, "{words}");
        }
        assert!(are_sticks(&["sticks"]) && !are_sticks(&["left", "stick"]));
    }
}
