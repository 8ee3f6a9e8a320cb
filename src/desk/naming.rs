//! Names by the roll-call: what answered becomes roles, signs and button order.
use std::collections::HashMap;
use std::path::Path;

use crate::rig::{AxisId, Control, Half, Rig, StickPart, TriggerPart};
use crate::segment::roll_call::calls;
use crate::session::{Inputs, Session, Tracks, is_input};
use crate::survey::{Channel, Heard, HeardAll, hear};
use crate::wire::{Dialect, Grammar, Role};

use super::output::{self, OutputError};

/// What a roll-call says of a stream's fields, against what is in force.
#[derive(Clone, Debug, PartialEq)]
pub struct Naming {
    /// The role of each field. A field that answered nothing keeps its role, unless that role
    /// belongs to a control that was asked for.
    pub roles: Vec<Role>,
    /// The grammar with those roles: a dialect file.
    pub dialect: Dialect,
    /// The parts with their signs; buttons in bit order by what they were called.
    pub rig: Rig,
    /// Controls that were asked for.
    pub asked: usize,
    /// Controls that a channel answered.
    pub named: usize,
    /// What differs from the roles and the parts list in force, a line each.
    pub changes: Vec<String>,
    /// What answered what.
    pub heard: HeardAll,
    /// What each control that was asked for is called, in the order of `heard.asked`.
    pub called: Vec<String>,
    /// Controls that nothing answered, as a person calls them.
    pub silent: Vec<String>,
    /// Controls at which a second channel moved nearly as much.
    pub doubtful: Vec<String>,
}

impl Naming {
    /// Gives the fields their roles.
    pub fn put_into(&self, session: &mut Session) {
        // A role stands once: every field is freed before each takes its own.
        for field in 0..self.roles.len() {
            session.set_role(field, Role::Ignore);
        }
        for (field, role) in self.roles.iter().enumerate() {
            session.set_role(field, *role);
        }
    }

    /// One sentence: how many channels have a name.
    pub fn summary(&self) -> String {
        let mut words = format!("{} of {} controls answered", self.named, self.asked);
        if !self.silent.is_empty() {
            words += &format!("; nothing answered {}", self.silent.join(", "));
        }
        if !self.doubtful.is_empty() {
            words += &format!("; more than one channel answered {}", self.doubtful.join(", "));
        }
        words
    }
}

/// Writes the dialect and the parts list that a roll-call found, those that are wanted.
///
/// # Errors
/// A file cannot be written.
pub fn write(
    naming: &Naming,
    dialect: Option<&Path>,
    rig: Option<&Path>,
) -> Result<(), OutputError> {
    if let Some(path) = dialect {
        output::write_whole(path, as_ron(&naming.dialect, DIALECT_HEAD).as_bytes())?;
    }
    if let Some(path) = rig {
        output::write_whole(path, as_ron(&naming.rig, RIG_HEAD).as_bytes())?;
    }
    Ok(())
}

const DIALECT_HEAD: &str =
    "// The grammar of a board's debug line, its fields named by a roll-call.\n";
const RIG_HEAD: &str =
    "// A controller's parts list, signs and button order found by a roll-call.\n";

/// A plain structure as a file for people to edit.
pub(super) fn as_ron<T: serde::Serialize>(value: &T, head: &str) -> String {
    let layout = ron::ser::PrettyConfig::new().new_line("\n").indentor("  ");
    let layout = layout.extensions(ron::extensions::Extensions::IMPLICIT_SOME);
    // Plain structures always serialise.
    let body = ron::ser::to_string_pretty(value, layout).unwrap_or_default();
    format!("{head}{}\n", body.trim_start_matches("#![enable(implicit_some)]\n"))
}

/// The names that a session's own roll-call gives; `None` without calls or frames.
///
/// Cost: a few passes over the rows of the roll-call.
pub fn name_session(session: &Session, tracks: &Tracks, rig: &Rig) -> Option<Naming> {
    let calls = calls(tracks);
    let (first, end) = (calls.first()?.rows.first, calls.last()?.rows.end);
    let inputs: Inputs = session.inputs_of(first..end);
    name_fields(session, rig, &hear(tracks, &inputs)?)
}

/// The names by what was heard; `None` until the dialect is known.
pub fn name_fields(session: &Session, rig: &Rig, heard: &HeardAll) -> Option<Naming> {
    let dialect = session.dialect()?;
    let roles = roles_of(session.roles(), heard);
    let names = Names::of(session);
    let named = rig_of(rig, &names, &roles, heard);
    let words = |controls: Vec<Control>| controls.into_iter().map(|c| names.of_control(c));
    let dialect = dialect_of(session, dialect, &roles);
    Some(Naming {
        changes: changes(session, &roles, rig, &named),
        roles,
        dialect,
        rig: named,
        asked: heard.asked.len(),
        named: heard.heard.len(),
        called: words(heard.asked.clone()).collect(),
        heard: heard.clone(),
        silent: words(heard.silent()).collect(),
        doubtful: words(heard.doubtful()).collect(),
    })
}

/// What the controls were called when they were asked for.
struct Names<'a> {
    said: HashMap<Control, &'a str>,
    rig: Rig,
}

impl Names<'_> {
    /// By the marks, else by the parts list that the session began with: the one in force may
    /// have the names in another order by now.
    fn of(session: &Session) -> Names<'_> {
        let calls = session.marks().iter().filter_map(|mark| mark.call());
        let said = calls.filter(|(_, name)| !name.is_empty());
        Names { said: said.collect(), rig: session.about.rig.clone().unwrap_or_default() }
    }

    fn of_control(&self, control: Control) -> String {
        match self.said.get(&control) {
            Some(name) => (*name).to_owned(),
            None => self.rig.control_words(control),
        }
    }
}

/// The role of each field by what answered in it.
fn roles_of(now: &[Role], heard: &HeardAll) -> Vec<Role> {
    let asked_for = |role: Role| match role {
        Role::Axis(axis) => heard.asked.contains(&Control::Axis(axis)),
        Role::Button(_) | Role::Buttons => {
            heard.asked.iter().any(|c| matches!(c, Control::Button(_)))
        }
        _ => false,
    };
    // Line by line only where no field holds two lines, for a mask and lines exclude each other.
    let lines = |k: usize| bits_of(heard, k).count();
    let masked = (0..now.len()).any(|k| lines(k) > 1)
        || (0..now.len()).any(|k| now[k] == Role::Buttons && lines(k) > 0);
    // The fullest field is the mask; a second one has no role to take.
    let mask = (0..now.len()).filter(|_| masked).max_by_key(|&k| (lines(k), usize::MAX - k));
    let role = |(k, &now): (usize, &Role)| {
        if !is_input(now) {
            return now;
        }
        let whole = heard.heard.iter().find(|h| h.channel == Channel::Field(k));
        match (whole.map(|h| h.control), bits_of(heard, k).next()) {
            (Some(Control::Axis(axis)), _) => Role::Axis(axis),
            (_, Some(_)) if mask == Some(k) => Role::Buttons,
            (_, Some(Heard { control: Control::Button(n), .. })) if !masked => Role::Button(*n),
            _ if asked_for(now) => Role::Ignore,
            _ => now,
        }
    };
    now.iter().enumerate().map(role).collect()
}

fn bits_of(heard: &HeardAll, field: usize) -> impl Iterator<Item = &Heard> {
    heard.heard.iter().filter(move |h| matches!(h.channel, Channel::Bit(f, _) if f == field))
}

/// The grammar with the roles. Columns that carry the name of a role get that of the new one;
/// labels belong to the board and stay.
fn dialect_of(session: &Session, dialect: &Dialect, roles: &[Role]) -> Dialect {
    let mut dialect = dialect.clone();
    let usual = |role: Role| match role {
        Role::Axis(axis) => Some(axis.key().to_owned()),
        Role::Button(n) => Some(format!("b{n}")),
        Role::Buttons => Some("buttons".to_owned()),
        _ => None,
    };
    let columns = matches!(dialect.grammar, Grammar::Columns(_));
    for (k, (field, role)) in dialect.fields.iter_mut().zip(roles).enumerate() {
        let made = usual(field.role).is_none_or(|name| name == field.name);
        if columns && made && *role != field.role {
            field.name = usual(*role).unwrap_or_else(|| format!("field{}", k + 1));
        }
        field.role = *role;
        field.base = session.base_of(k);
    }
    dialect.by_order = false;
    dialect
}

/// The parts list by what answered: signs from the direction of the change, buttons in bit order.
fn rig_of(rig: &Rig, names: &Names<'_>, roles: &[Role], heard: &HeardAll) -> Rig {
    let change = |axis: AxisId| heard.of(Control::Axis(axis)).map(|h| h.change);
    let mut named = rig.clone();
    for half in Half::ALL {
        let [x, y] = half.stick().map(change);
        let place = named.sticks.iter().position(|s| s.half == half);
        if place.is_none() && (x.is_none() || y.is_none()) {
            continue;
        }
        let place = place.unwrap_or_else(|| {
            named.sticks.push(StickPart::plain(half));
            named.sticks.len() - 1
        });
        let part = &mut named.sticks[place];
        part.x_inverted = x.map_or(part.x_inverted, |change| change < 0.0);
        part.y_inverted = y.map_or(part.y_inverted, |change| change < 0.0);
    }
    for half in Half::ALL {
        let Some(change) = change(half.trigger()) else { continue };
        let place = named.triggers.iter().position(|t| t.half == half).unwrap_or_else(|| {
            named.triggers.push(TriggerPart::plain(half));
            named.triggers.len() - 1
        });
        named.triggers[place].rests_high = Some(change < 0.0);
    }
    name_buttons(&mut named, names, roles, heard);
    named
}

/// Puts the buttons' names where they answered; a place that none answered has no name.
fn name_buttons(named: &mut Rig, names: &Names<'_>, roles: &[Role], heard: &HeardAll) {
    let places = heard.heard.iter().filter_map(|h| {
        let (Control::Button(n), Channel::Bit(field, bit)) = (h.control, h.channel) else {
            return None;
        };
        match roles.get(field)? {
            Role::Buttons => Some((usize::from(bit), n, h.change)),
            Role::Button(line) => Some((usize::from(*line), n, h.change)),
            _ => None,
        }
    });
    let places: Vec<(usize, u8, f64)> = places.collect();
    let Some(most) = places.iter().map(|(bit, ..)| bit + 1).max() else { return };
    named.buttons = vec![String::new(); most.max(named.buttons.len())];
    for (bit, n, _) in &places {
        named.buttons[*bit] = names.of_control(Control::Button(*n));
    }
    let low = places.iter().filter(|(.., change)| *change < 0.0).count();
    named.buttons_active_low = Some(2 * low > places.len());
}

/// What differs, a line each.
fn changes(session: &Session, roles: &[Role], rig: &Rig, named: &Rig) -> Vec<String> {
    let mut lines = Vec::new();
    let names = session.dialect().map(|d| d.fields.as_slice()).unwrap_or_default();
    for (k, (now, new)) in session.roles().iter().zip(roles).enumerate() {
        if now != new {
            let name = names.get(k).map_or("", |f| f.name.as_str());
            lines.push(format!(
                "field {} ({name}): {} instead of {}",
                k + 1,
                new.words(),
                now.words()
            ));
        }
    }
    lines.extend(sign_changes(rig, named));
    let named_before = !rig.buttons.is_empty();
    for bit in 0..named.buttons.len() {
        let before = rig.buttons.get(bit).map_or("", String::as_str);
        let name = named.buttons[bit].as_str();
        if before != name {
            lines.push(match (name, before, named_before) {
                ("", ..) => format!("b{bit}: without a name, {before} did not answer there"),
                (_, "", _) | (_, _, false) => format!("b{bit} is {name}"),
                _ => format!("b{bit} is {name}, not {before}"),
            });
        }
    }
    let said = rig.buttons_active_low;
    if let (Some(low), true) = (named.buttons_active_low, named.buttons_active_low != said)
        && said.is_some()
    {
        lines.push(format!("a pressed button reads {}", u8::from(!low)));
    }
    lines
}

fn sign_changes(rig: &Rig, named: &Rig) -> Vec<String> {
    let mut lines = Vec::new();
    for part in &named.sticks {
        let before = rig.sticks.iter().find(|s| s.half == part.half);
        let [x, y] = part.half.stick();
        let was = before.map_or([false; 2], |s| [s.x_inverted, s.y_inverted]);
        for (axis, is, was) in [(x, part.x_inverted, was[0]), (y, part.y_inverted, was[1])] {
            if is != was {
                let how = if is { "runs backward" } else { "does not run backward" };
                lines.push(format!("{} {how}", axis.words()));
            }
        }
    }
    for part in &named.triggers {
        // A rig that leaves it open is filled in, which is no change to ask about.
        let before = rig.triggers.iter().find(|t| t.half == part.half).and_then(|t| t.rests_high);
        if let (Some(was), Some(high)) = (before, part.rests_high)
            && was != high
        {
            let level = if high { "high" } else { "low" };
            lines.push(format!("{} rests {level}", part.half.trigger().words()));
        }
    }
    lines
}
