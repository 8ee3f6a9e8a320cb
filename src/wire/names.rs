//! Roles by the names that builders give to their fields.
use crate::rig::{AxisId, Half};

use super::{ClockUnit, Role};

/// Words that say nothing about which field it is.
const FILLERS: [&str; 10] =
    ["joystick", "thumbstick", "stick", "analog", "thumb", "joy", "axis", "raw", "adc", "js"];

/// The role that a field's name stands for, if it is one of the usual spellings.
///
/// Case and everything but letters and digits do not count: `LX`, `left-x`, `Left Stick X` and
/// `raw_lx` are the same.
pub fn role_of_name(name: &str) -> Option<Role> {
    let plain = plain(name);
    stream_role(&plain)
        .or_else(|| axis(&plain).map(Role::Axis))
        .or_else(|| out_role(&plain))
        .or_else(|| remote_role(&plain))
        .or_else(|| numbered_role(&plain))
}

/// True for the name of a stick or trigger beyond two: a third one, or a second on one side.
pub fn is_further_control(name: &str) -> bool {
    let mut plain = plain(name);
    for word in ["third", "fourth", "middle", "extra", "aux"] {
        plain = plain.replace(word, "3");
    }
    let rest: String = plain.chars().filter(|c| !matches!(c, '2'..='9')).collect();
    let numbered = rest.len() < plain.len();
    matches!(plain.as_str(), "z" | "rz")
        || numbered && axis(&plain).is_none() && axis(&rest).is_some()
}

pub(super) fn role_of_bytes(name: &[u8]) -> Option<Role> {
    role_of_name(std::str::from_utf8(name).ok()?)
}

/// Lower case, letters and digits only.
pub(super) fn plain(name: &str) -> String {
    name.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect()
}

/// The unit that a clock's name gives away.
pub(super) fn clock_unit(name: &str) -> Option<ClockUnit> {
    let name = plain(name);
    if name.contains("milli") || name.ends_with("ms") || name.ends_with("msec") {
        Some(ClockUnit::Millis)
    } else if name.contains("micro") || name.ends_with("us") || name.ends_with("usec") {
        Some(ClockUnit::Micros)
    } else {
        None
    }
}

/// True for a clock's name that gives a unit that is not read: ticks, cycles, hundredths of a second, the time
/// since the line before.
pub fn is_other_unit(name: &str) -> bool {
    let name = plain(name);
    let many = |unit: &str| {
        let before = name.strip_suffix(unit).unwrap_or("");
        before.ends_with(|c: char| c.is_ascii_digit())
    };
    let counts = ["tick", "jiff"].iter().any(|word| name.contains(word));
    counts && clock_unit(&name).is_none()
        || ["hz", "cyc"].iter().any(|word| name.contains(word))
        || ["ns", "nano", "nanos", "nsec"].iter().any(|unit| name.ends_with(unit))
        || ["us", "ms", "usec", "msec"].iter().any(|unit| many(unit))
        || ["dt", "delta", "diff"].iter().any(|word| name.starts_with(word))
}

fn stream_role(name: &str) -> Option<Role> {
    Some(match name {
        "seq" | "sequence" | "seqno" | "n" | "no" | "num" | "nr" | "frame" | "frameno" | "frm"
        | "count" | "counter" | "cnt" | "idx" | "index" | "i" | "k" | "packet" | "pkt"
        | "sample" | "line" => Role::Seq,
        "t" | "us" | "tus" | "time" | "timeus" | "timems" | "micros" | "microseconds" | "usec"
        | "ms" | "tms" | "millis" | "milliseconds" | "msec" | "timestamp" | "ts" | "clock"
        | "clk" | "clockus" | "clockms" | "boardus" | "boardms" => Role::Clock,
        "buttons" | "button" | "btns" | "btn" | "b" | "bt" | "mask" | "keys" | "switches"
        | "sw" | "bits" | "buttonmask" | "buttonbits" | "btnmask" | "keymask" => Role::Buttons,
        "vcc" | "vdd" | "vccmv" | "vddmv" | "supply" | "supplymv" | "mv" => Role::Vcc,
        "temp" | "temperature" | "tempc" | "degc" => Role::Temperature,
        "reset" | "rst" | "cause" | "resetcause" | "rstcause" | "mcusr" => Role::ResetCause,
        "id" | "ident" | "identity" | "headercrc" | "build" => Role::Identity,
        "crc" | "crc8" | "crc16" | "checksum" | "chk" | "sum" | "cs" | "xor" => Role::Checksum,
        _ => return None,
    })
}

/// What is left of a plain name without the words that say nothing.
pub(super) fn without_fillers(name: &str) -> String {
    FILLERS.iter().fold(name.to_owned(), |name, filler| name.replace(filler, ""))
}

fn axis(name: &str) -> Option<AxisId> {
    Some(match without_fillers(name).as_str() {
        "lx" | "leftx" | "xl" | "xleft" | "x1" | "1x" | "lhx" | "x" => AxisId::Lx,
        "ly" | "lefty" | "yl" | "yleft" | "y1" | "1y" | "lhy" | "y" => AxisId::Ly,
        "rx" | "rightx" | "xr" | "xright" | "x2" | "2x" | "rhx" => AxisId::Rx,
        "ry" | "righty" | "yr" | "yright" | "y2" | "2y" | "rhy" => AxisId::Ry,
        "lt" | "ltrig" | "ltrigger" | "lefttrig" | "lefttrigger" | "trigl" | "triggerl"
        | "triggerleft" | "trigleft" | "leftt" | "tl" | "tl2" | "trig1" | "trigger1" => AxisId::Lt,
        "rt" | "rtrig" | "rtrigger" | "righttrig" | "righttrigger" | "trigr" | "triggerr"
        | "triggerright" | "trigright" | "rightt" | "tr" | "tr2" | "trig2" | "trigger2" => {
            AxisId::Rt
        }
        _ => return None,
    })
}

/// Processed values as the flashed firmware gives them.
fn out_role(name: &str) -> Option<Role> {
    let inner = name
        .strip_prefix("output")
        .or_else(|| name.strip_prefix("out"))
        .or_else(|| name.strip_suffix("out"))
        .or_else(|| name.strip_prefix('o'))?;
    match axis(inner) {
        Some(axis) => Some(Role::OutAxis(axis)),
        None => (stream_role(inner) == Some(Role::Buttons)).then_some(Role::OutButtons),
    }
}

/// Counter and age of a half that is polled: the right one unless the name says left.
fn remote_role(name: &str) -> Option<Role> {
    let what = ["seq", "counter", "cnt", "age"].into_iter().find(|word| name.contains(word))?;
    let side = name.replacen(what, "", 1);
    let half = match side.as_str() {
        "l" | "left" | "remotel" | "remoteleft" | "lremote" => Half::Left,
        "r" | "right" | "remote" | "rem" | "remoter" | "remoteright" | "rremote" | "2" => {
            Half::Right
        }
        "" | "us" | "ms" | "remotems" | "remoteus" | "rms" | "rus" if what == "age" => Half::Right,
        "lms" | "lus" | "leftms" | "leftus" if what == "age" => Half::Left,
        _ => return None,
    };
    Some(if what == "age" { Role::RemoteAge(half) } else { Role::RemoteSeq(half) })
}

/// `b3`, `btn3`, `duty0`, `motor1`, `led2`: a word and a number.
fn numbered_role(name: &str) -> Option<Role> {
    let cut = name.find(|c: char| c.is_ascii_digit()).unwrap_or(name.len());
    let (word, digits) = name.split_at(cut);
    let number: u8 = if digits.is_empty() { 0 } else { digits.parse().ok()? };
    match word {
        "b" | "bt" | "btn" | "button" | "sw" | "key" if !digits.is_empty() && number < 32 => {
            Some(Role::Button(number))
        }
        "duty" | "motor" | "rumble" | "pwm" => Some(Role::Duty(number)),
        "led" | "light" => Some(Role::Light(number)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_spellings_are_known() {
        for (names, role) in [
            ("seq n FRAME counter", Role::Seq),
            ("t t_us time_us micros ms timestamp", Role::Clock),
            ("lx LX left_x Left-Stick-X raw_lx x1 x joy1x", Role::Axis(AxisId::Lx)),
            ("ry RightY stick2_y yR", Role::Axis(AxisId::Ry)),
            ("lt left_trigger trigL", Role::Axis(AxisId::Lt)),
            ("b B buttons BTN mask", Role::Buttons),
            ("b3 btn3 Button-3", Role::Button(3)),
            ("out_lx lx_out olx", Role::OutAxis(AxisId::Lx)),
            ("out_buttons obtn", Role::OutButtons),
            ("rseq remote_seq", Role::RemoteSeq(Half::Right)),
            ("age remote_age age_ms rage", Role::RemoteAge(Half::Right)),
            ("left_age", Role::RemoteAge(Half::Left)),
            ("motor1 duty1", Role::Duty(1)),
            ("led light", Role::Light(0)),
            ("vcc_mv", Role::Vcc),
        ] {
            for name in names.split(' ') {
                assert_eq!(role_of_name(name), Some(role), "{name}");
            }
        }
    }

    #[test]
    fn other_words_are_not() {
        for name in ["", "hello", "mode", "b99", "voltage_of_the_cell", "version", "on", "or"] {
            assert_eq!(role_of_name(name), None, "{name}");
        }
    }

    #[test]
    fn further_sticks_and_triggers_are_known_by_their_names() {
        for name in
            ["x3", "stick3_y", "third_x", "lt2", "trigger_r2", "joy4x", "left_trigger_3", "rz"]
        {
            assert!(is_further_control(name), "{name}");
        }
        for name in ["x2", "lx", "b3", "spare", "temp2", "counter3", "", "33"] {
            assert!(!is_further_control(name), "{name}");
        }
    }

    #[test]
    fn a_clock_may_name_its_unit() {
        assert_eq!(clock_unit("t_us"), Some(ClockUnit::Micros));
        assert_eq!(clock_unit("millis"), Some(ClockUnit::Millis));
        assert_eq!(clock_unit("time"), None);
        for name in ["t_ns", "cyc_84MHz", "rtc_32768hz", "t [10us]", "t_100us", "dt_us", "ticks"] {
            assert!(is_other_unit(name), "{name}");
        }
        for name in ["t_us", "tick_ms", "ms", "micros", "time/ms", "t"] {
            assert!(!is_other_unit(name), "{name}");
        }
    }
}
