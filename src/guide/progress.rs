//! How far a task has come: by the sufficiency of the data, never by the clock.
use super::{Parts, Prompt, words};
use crate::measure::centre::{Rested, heavy_tail};
use crate::rig::{AxisId, Control, Half, Task};
use crate::segment::{Kind, Pace, Segments, roll_call::calls};
use crate::session::Tracks;
use crate::survey::{Channel, HeardAll};

/// Rows of quiet rest that are enough.
const REST_ROWS: usize = 2_000;
/// Quiet rest that is enough at slow rates, µs.
const REST_US: f64 = 8_000_000.0;
/// A call that nothing answers is said so from here on, and passed over later, µs.
const ASK_AGAIN_US: u64 = 2_500_000;
const PASS_OVER_US: u64 = 6_000_000;
/// Directions that a roll is to see.
const SECTORS: usize = 72;
/// Whole turns each way.
const TURNS: usize = 3;
/// Releases of each stick, and when the scatter looks heavy-tailed.
const RELEASES: usize = 16;
const RELEASES_MORE: usize = 24;
/// Slow and fast pulls of each trigger.
const PULLS: usize = 4;
/// Presses of each button.
const PRESSES: usize = 5;

/// What a task is judged by.
pub(super) struct Seen<'a> {
    pub(super) tracks: &'a Tracks,
    pub(super) found: &'a Segments,
    pub(super) parts: &'a Parts,
}

/// The prompt of a task as it stands.
pub(super) fn prompt(task: Task, seen: &Seen<'_>, pushes: &[i32]) -> Prompt {
    let mut prompt = match task {
        Task::Rest => rest(seen),
        Task::RollCall => roll_call(seen.tracks, None, &seen.parts.controls, 0),
        Task::Roll => roll(seen),
        Task::Releases => releases(seen),
        Task::Triggers => triggers(seen),
        Task::Buttons => buttons(seen),
    };
    let push_deg = pushes[prompt.count % pushes.len()];
    if task != Task::RollCall {
        prompt.title = words::title(task, seen.parts, push_deg);
    }
    prompt.enough = prompt.share >= 1.0;
    prompt.share = prompt.share.min(1.0);
    if prompt.refusal.is_none() {
        prompt.refusal = newest_refusal(task, seen);
    }
    prompt
}

fn rest(seen: &Seen<'_>) -> Prompt {
    let rows = seen.found.rest_rows();
    let seconds = rows as f64 * seen.tracks.period_us * 1e-6;
    let share = (rows as f64 / REST_ROWS as f64).max(seconds * 1e6 / REST_US);
    let moving: Vec<&str> = AxisId::ALL
        .into_iter()
        .filter(|a| seen.found.moving_now[a.index()])
        .map(AxisId::words)
        .collect();
    let refusal = (!moving.is_empty()).then(|| format!("{} moved: hands off", moving.join(", ")));
    Prompt {
        detail: format!("{seconds:.1} s of quiet rest, {rows} readings of {REST_ROWS}"),
        share,
        count: seconds as usize,
        refusal,
        ..Prompt::default()
    }
}

/// Controls in order, each answered by some channel or passed over; the first `called` are done.
pub(super) fn roll_call(
    tracks: &Tracks,
    heard: Option<&HeardAll>,
    controls: &[(Control, String)],
    called: usize,
) -> Prompt {
    let calls = calls(tracks);
    let waited_us = |control: Control| {
        let call = calls.iter().find(|c| c.control == control)?;
        let t_us = call.rows.of(&tracks.t_us);
        Some(t_us.last()?.saturating_sub(*t_us.first()?))
    };
    let answer = |control: Control| heard?.of(control);
    let done = |control: Control| {
        answer(control).is_some() || waited_us(control).is_some_and(|us| us >= PASS_OVER_US)
    };
    let called = called.min(controls.len());
    let count = called + controls[called..].iter().take_while(|(c, _)| done(*c)).count();
    let mut detail = format!("{count} of {} controls", controls.len());
    if let Some((last, name)) = count.checked_sub(1).and_then(|k| controls.get(k)) {
        detail += &match answer(*last).map(|heard| heard.channel) {
            Some(Channel::Field(field)) => format!("; {name}: field {}", field + 1),
            Some(Channel::Bit(field, bit)) => format!("; {name}: field {}, bit {bit}", field + 1),
            None => format!("; nothing answered {name}"),
        };
    }
    let next = controls.get(count);
    let waiting = next.and_then(|(c, _)| waited_us(*c)).unwrap_or(0);
    let refusal = (waiting >= ASK_AGAIN_US).then(|| {
        "nothing has answered: move it all the way and let go; it is passed over after six seconds"
            .to_owned()
    });
    let title = match next {
        Some((control, name)) => words::call_title(*control, name),
        None => "Every control was asked for".to_owned(),
    };
    let share = count as f64 / controls.len().max(1) as f64;
    let enough = next.is_none();
    Prompt { title, detail, share, count, refusal, enough, ..Prompt::default() }
}

fn roll(seen: &Seen<'_>) -> Prompt {
    let mut least: (f64, usize, usize) = (f64::INFINITY, 0, 0);
    for &half in &seen.parts.sticks {
        // Which way is clockwise for the person depends on the signs of the axes: it is not said.
        let first = seen.found.turns(half).next().map(|(way, _)| way);
        let count = |one: bool| {
            seen.found.turns(half).filter(|(way, _)| (Some(*way) == first) == one).count()
        };
        let (one, other) = (count(true).min(TURNS), count(false).min(TURNS));
        let share = (one + other) as f64 / (2 * TURNS) as f64;
        if share < least.0 {
            least = (share, one, other);
        }
    }
    let visits: Vec<(Half, Vec<u8>)> =
        seen.parts.sticks.iter().map(|half| (*half, visits_of(seen, *half))).collect();
    let sectors = seen_twice(&visits);
    let (share, one, other) = least;
    let share = if share >= 1.0 { sectors as f64 / SECTORS as f64 } else { share };
    let detail = format!(
        "three turns one way, three the other: {one} and {other} of {TURNS} done; \
         {sectors} of 72 sectors seen twice"
    );
    Prompt { detail, share, count: sectors, visits, ..Prompt::default() }
}

/// Sectors of 5° that every stick has crossed at least twice, on any sweep along the rim.
fn seen_twice(visits: &[(Half, Vec<u8>)]) -> usize {
    let sticks = visits.iter().map(|(_, visits)| visits.iter().filter(|v| **v >= 2).count());
    sticks.min().unwrap_or(0)
}

/// How often a stick has crossed each sector of 5° along the rim; empty while that is not known.
fn visits_of(seen: &Seen<'_>, half: Half) -> Vec<u8> {
    let [x_axis, y_axis] = half.stick();
    let levels = &seen.found.levels;
    let columns = (seen.tracks.axis(x_axis), seen.tracks.axis(y_axis));
    let (Some(lx), Some(ly)) = (levels.axis(x_axis), levels.axis(y_axis)) else {
        return Vec::new();
    };
    let (Some(xs), Some(ys)) = columns else { return Vec::new() };
    let mut visits = vec![0_u8; 72];
    for roll in seen.found.rolls(half) {
        let mut last = usize::MAX;
        for (x, y) in roll.rows.of(xs).iter().zip(roll.rows.of(ys)) {
            let dx = (f64::from(*x) - lx.rest) / lx.travel().max(1.0);
            let dy = (f64::from(*y) - ly.rest) / ly.travel().max(1.0);
            let sector = (dy.atan2(dx).to_degrees().rem_euclid(360.0) * SECTORS as f64 / 360.0)
                as usize
                % SECTORS;
            visits[sector] = visits[sector].saturating_add(u8::from(sector != last));
            last = sector;
        }
    }
    visits
}

fn releases(seen: &Seen<'_>) -> Prompt {
    let counts = seen.parts.sticks.iter().map(|half| seen.found.releases(*half).len());
    let count = counts.min().unwrap_or(0);
    let heavy = seen.parts.sticks.iter().any(|half| heavy_tailed(seen, *half));
    let need = if heavy && count >= RELEASES { RELEASES_MORE } else { RELEASES };
    let mut detail = format!("{count} of {need} clean releases; wait a second after each");
    if need == RELEASES_MORE {
        detail.push_str("; some rests lie far out, so eight more are asked for");
    }
    Prompt { detail, share: count as f64 / need as f64, count, ..Prompt::default() }
}

/// Rest means whose largest distance stands out of the rest.
fn heavy_tailed(seen: &Seen<'_>, half: Half) -> bool {
    let [x_axis, y_axis] = half.stick();
    let (Some(xs), Some(ys)) = (seen.tracks.axis(x_axis), seen.tracks.axis(y_axis)) else {
        return false;
    };
    let mean = |cells: &[i32]| {
        cells.iter().map(|c| f64::from(*c)).sum::<f64>() / cells.len().max(1) as f64
    };
    let rests: Vec<Rested> = (seen.found.releases(half).iter())
        .map(|r| Rested { at: [mean(r.settled.of(xs)), mean(r.settled.of(ys))], from_deg: 0.0 })
        .collect();
    let n = rests.len().max(1) as f64;
    let middle = [0, 1].map(|i| rests.iter().map(|r| r.at[i]).sum::<f64>() / n);
    heavy_tail(&rests, middle).is_some()
}

fn triggers(seen: &Seen<'_>) -> Prompt {
    let mut least = (usize::MAX, 0, 0);
    for &half in &seen.parts.triggers {
        let count = |pace| seen.found.pulls(half).iter().filter(|p| p.pace == pace).count();
        let (slow, fast) = (count(Pace::Slow).min(PULLS), count(Pace::Fast).min(PULLS));
        if slow + fast < least.0 {
            least = (slow + fast, slow, fast);
        }
    }
    let (count, slow, fast) = least;
    let detail = format!(
        "{slow} of {PULLS} slow pulls, two seconds each way; {fast} of {PULLS} fast ones, let \
         snap back; wait a second after each"
    );
    Prompt { detail, share: count as f64 / (2 * PULLS) as f64, count, ..Prompt::default() }
}

fn buttons(seen: &Seen<'_>) -> Prompt {
    let presses = |k: usize| {
        let track = seen.found.buttons.iter().find(|b| usize::from(b.index) == k);
        track.map_or(0, |b| b.presses.len())
    };
    let counts: Vec<usize> = (0..seen.parts.buttons).map(presses).collect();
    let done: usize = counts.iter().map(|c| (*c).min(PRESSES)).sum();
    let all = PRESSES * seen.parts.buttons.max(1);
    let short: Vec<String> = counts
        .iter()
        .enumerate()
        .filter(|(_, c)| **c < PRESSES)
        .map(|(k, c)| format!("b{k} {c}"))
        .collect();
    let more = match short.len() {
        0 => "all done".to_owned(),
        1..=6 => format!("still short: {}", short.join(", ")),
        n => format!("{n} buttons still short"),
    };
    let detail = format!("{done} of {all} presses; {more}");
    Prompt { detail, share: done as f64 / all as f64, count: done, ..Prompt::default() }
}

/// Why the newest attempt did not count, while it is the newest thing that happened.
fn newest_refusal(task: Task, seen: &Seen<'_>) -> Option<String> {
    let kind = match task {
        Task::Rest => Kind::Rest,
        Task::RollCall => return None,
        Task::Roll => Kind::Roll,
        Task::Releases => Kind::Release,
        Task::Triggers => Kind::Pull,
        Task::Buttons => Kind::Press,
    };
    let last = seen.found.rejected.iter().filter(|r| r.kind == kind).max_by_key(|r| r.rows.end)?;
    let good_end = match task {
        Task::Releases => {
            let ends = Half::ALL.into_iter().flat_map(|h| seen.found.releases(h));
            ends.map(|r| r.settled.end).max()
        }
        Task::Triggers => {
            let ends = Half::ALL.into_iter().flat_map(|h| seen.found.pulls(h));
            ends.map(|p| p.down.end).max()
        }
        _ => return None,
    };
    (last.rows.end > good_end.unwrap_or(0))
        .then(|| format!("the last one does not count: {}", last.why.words()))
}
