//! What a virtual board is asked to be, and why it may be refused.
use super::Scenario;
use crate::rig::{Half, MotorPart, POSITIONS, Rig, StickPart, TriggerPart};
use crate::wire::{Base, ChecksumForm, ClockUnit, Dialect, Field, Grammar, Role, Separator};

/// A virtual board's make.
#[derive(Clone, Debug)]
pub struct Options {
    /// What is wrong with it, if anything.
    pub scenario: Scenario,
    /// Its parts list; `None` = two sticks, two triggers, 15 buttons. Where it names no buttons and
    /// the dialect prints some, they are `b0`, `b1`, … (15 behind a mask).
    pub rig: Option<Rig>,
    /// How it prints; `None` = columns with commas and a heading.
    pub dialect: Option<Dialect>,
    /// Frames a second, 1 to 4000.
    pub rate_hz: f64,
    /// Same seed, same board, same hand, same bytes.
    pub seed: u64,
    /// Width of a raw reading, 8 to 16 bits; `None` = the rig's, else 10.
    pub raw_bits: Option<u8>,
    /// What the board's clock shows at power-on, µs. A clock that has just started shows 0; one
    /// that shows 4 274 967 296 wraps at 32 bits 20 s later.
    pub start_clock_us: u64,
}

impl Default for Options {
    /// A healthy 10-bit board at 250 Hz, seed 1.
    fn default() -> Self {
        Options {
            scenario: Scenario::healthy(),
            rig: None,
            dialect: None,
            rate_hz: 250.0,
            seed: 1,
            raw_bits: None,
            start_clock_us: 0,
        }
    }
}

/// Why there is no such virtual board.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BoardError {
    /// The rate is no number of frames a second that a board could print.
    #[error("a rate of {0} Hz cannot be played; choose 1 to 4000")]
    Rate(f64),
    /// The width is out of range.
    #[error("a raw width of {0} bits cannot be played; choose 8 to 16")]
    RawBits(u8),
    /// The rig gives one width and the options another.
    #[error("the rig says {rig} bits and the command {asked}; leave one of them out")]
    TwoWidths {
        /// From the rig.
        rig: u8,
        /// From the options.
        asked: u8,
    },
    /// More buttons than a mask has bits.
    #[error("the rig names {0} buttons; a board has at most 32")]
    Buttons(usize),
    /// A part stands twice.
    #[error("the rig names two {part} for the {half} half; a half has one")]
    TwoParts {
        /// `sticks` or `triggers`.
        part: &'static str,
        /// `left` or `right`.
        half: &'static str,
    },
    /// The dialect cannot be used at all.
    #[error("the dialect cannot be printed: {0}")]
    Dialect(String),
    /// The dialect wants something that this firmware does not know.
    #[error(
        "field \"{0}\" of the dialect: the virtual board prints raw readings only and has no value for it"
    )]
    Field(String),
}

/// The rig of a virtual board when none is given.
pub fn bench_rig(raw_bits: u8) -> Rig {
    let name = if raw_bits <= 10 { "Sandpiper rev B" } else { "Dunlin rev A" };
    Rig {
        name: name.to_owned(),
        board_id: "bench 1".to_owned(),
        raw_bits: Some(raw_bits),
        sticks: Half::ALL.map(StickPart::plain).to_vec(),
        triggers: Half::ALL.map(TriggerPart::plain).to_vec(),
        buttons: POSITIONS.map(str::to_owned).to_vec(),
        ..Rig::default()
    }
}

/// The same controller with two motors and one string of lights, so that the scripted run sweeps them.
pub fn with_outputs(rig: Rig) -> Rig {
    // 3 V motors on 5 V: at most 3.3 V of it.
    let motor = MotorPart { start: 80, stop: None, most: 170, kick_ms: 0, off_ms: 5000 };
    Rig { motors: vec![motor; 2], lights: 1, ..rig }
}

/// The dialect of a virtual board when none is given: `seq,t_us,lx,ly,rx,ry,lt,rt,buttons`, parts
/// that the rig lacks left out; behind them supply, reset cause, duties and levels where it has motors
/// or lights.
pub fn bench_dialect(rig: &Rig) -> Dialect {
    let mut fields = vec![field("seq", Role::Seq), field("t_us", Role::Clock)];
    let sticks = Half::ALL.into_iter().filter(|h| rig.sticks.iter().any(|s| s.half == *h));
    for axis in sticks.flat_map(Half::stick) {
        fields.push(field(axis.key(), Role::Axis(axis)));
    }
    for half in Half::ALL.into_iter().filter(|h| rig.triggers.iter().any(|t| t.half == *h)) {
        let axis = half.trigger();
        fields.push(field(axis.key(), Role::Axis(axis)));
    }
    if !rig.buttons.is_empty() {
        fields.push(Field { base: Base::Hex, ..field("buttons", Role::Buttons) });
    }
    if !rig.motors.is_empty() || rig.lights > 0 {
        fields.extend([field("vcc_mv", Role::Vcc), field("reset_cause", Role::ResetCause)]);
        let motors = (0..rig.motors.len().min(4) as u8).map(Role::Duty);
        let lights = (0..rig.lights.min(4)).map(Role::Light);
        fields.extend(motors.chain(lights).map(|role| match role {
            Role::Duty(n) => field(&format!("duty{n}"), role),
            Role::Light(n) => field(&format!("light{n}"), role),
            other => field("spare", other),
        }));
    }
    Dialect {
        clock_bits: None,
        names: Vec::new(),
        counts: Default::default(),
        line_us: None,
        pattern: String::new(),
        cr_ends: false,
        format: 1,
        grammar: Grammar::Columns(Separator::Comma),
        fields,
        checksum: ChecksumForm::None,
        clock: ClockUnit::Micros,
        seq_bits: Some(16),
        by_order: false,
    }
}

fn field(name: &str, role: Role) -> Field {
    Field { name: name.to_owned(), role, base: Base::Decimal }
}

impl Options {
    /// The rig when none is given: with motors, lights or a matrix where the scenario is about them.
    fn usual_rig(&self, bits: u8) -> Rig {
        let about = |words: &[&str]| self.scenario.faults().any(|(f, _)| words.contains(&f.word));
        let mut rig = bench_rig(bits);
        if about(&["pwm-coupling", "ground-step", "brown-out"]) {
            rig = with_outputs(rig);
        }
        if about(&["matrix-ghost"]) {
            rig.button_columns = Some(4);
        }
        rig
    }

    /// Fills what was left open and checks the whole.
    ///
    /// # Errors
    /// Every [`BoardError`]; nothing is guessed past a contradiction.
    pub(super) fn settle(&self) -> Result<(Rig, Dialect, u8), BoardError> {
        if !(1.0..=4000.0).contains(&self.rate_hz) {
            return Err(BoardError::Rate(self.rate_hz));
        }
        let from_rig = self.rig.as_ref().and_then(|r| r.raw_bits);
        if let (Some(rig), Some(asked)) = (from_rig, self.raw_bits)
            && rig != asked
        {
            return Err(BoardError::TwoWidths { rig, asked });
        }
        let bits = self.raw_bits.or(from_rig).unwrap_or(10);
        if !(8..=16).contains(&bits) {
            return Err(BoardError::RawBits(bits));
        }
        let mut rig = self.rig.clone().unwrap_or_else(|| self.usual_rig(bits));
        rig.raw_bits = Some(bits);
        check_parts(&rig)?;
        let dialect = self.dialect.clone().unwrap_or_else(|| bench_dialect(&rig));
        if rig.buttons.is_empty() {
            rig.buttons = (0..buttons_printed(&dialect)).map(|n| format!("b{n}")).collect();
        }
        dialect.check().map_err(|(_, what)| BoardError::Dialect(what))?;
        if let Some(odd) = dialect.fields.iter().find(|f| !can_print(f.role)) {
            return Err(BoardError::Field(odd.name.clone()));
        }
        Ok((rig, dialect, bits))
    }
}

fn check_parts(rig: &Rig) -> Result<(), BoardError> {
    if rig.buttons.len() > 32 {
        return Err(BoardError::Buttons(rig.buttons.len()));
    }
    for half in Half::ALL {
        let twice = |part, count: usize| {
            let err = BoardError::TwoParts { part, half: half.key() };
            if count > 1 { Err(err) } else { Ok(()) }
        };
        twice("sticks", rig.sticks.iter().filter(|s| s.half == half).count())?;
        twice("triggers", rig.triggers.iter().filter(|t| t.half == half).count())?;
    }
    Ok(())
}

/// How many buttons a dialect has room for; a mask does not say and is taken to hold 15.
fn buttons_printed(dialect: &Dialect) -> u8 {
    let room = |role| match role {
        Role::Buttons => 15,
        Role::Button(n) => n.saturating_add(1).min(32),
        _ => 0,
    };
    dialect.fields.iter().map(|f| room(f.role)).max().unwrap_or(0)
}

/// Whether the virtual firmware has a value for a role.
fn can_print(role: Role) -> bool {
    !matches!(role, Role::OutAxis(_) | Role::OutButtons | Role::Identity | Role::Checksum)
}
