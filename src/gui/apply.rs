//! The only place where the window changes anything: actions in, verbs of the desk called.
//!
//! One function a destination, and none has an arm for whatever is left: a verb that nobody applies
//! does not compile.
use std::path::{Path, PathBuf};

use egui::{Context, ViewportCommand};

use super::actions::{
    Action, EditVerb, LinkVerb, OutputVerb, RunVerb, Screen, TimeVerb, Touch, TraceVerb, WindowVerb,
};
use super::app::Bench;
use super::stations::News;
use super::time::STEP_US;
use crate::desk::{Desk, Saved, Weight, plain_name, small_text};
use crate::rig::Rig;
use crate::source::Address;

/// Does what a person asked for.
pub fn apply(bench: &mut Bench, ctx: &Context, action: Action) {
    match action {
        Action::Show(place) => bench.bring_up(place),
        Action::Run(verb) => run(bench, verb),
        Action::Link(verb) => link(bench, verb),
        Action::Edit(verb) => edit(&mut bench.desk, verb),
        Action::Output(verb) => output(bench, ctx, verb),
        Action::Time(verb) => time(bench, verb),
        Action::Trace(verb) => trace(bench, verb),
        Action::Part(verb) => bench.each_station(|station, view| station.part(verb, view)),
        Action::Window(verb) => window(bench, ctx, verb),
    }
    ctx.request_repaint();
}

fn run(bench: &mut Bench, verb: RunVerb) {
    let in_review = bench.desk.guided().is_some_and(|run| run.task().is_none());
    match verb {
        RunVerb::Start => bench.desk.start_guided(),
        RunVerb::Accept
            if in_review && bench.desk.review_is_ready() && bench.desk.header_text().is_ok() =>
        {
            save(bench, Saved::Header);
            bench.desk.accept();
        }
        // Without a header the review stays, and says why there is none.
        RunVerb::Accept if in_review => {}
        RunVerb::Accept => bench.desk.accept(),
        RunVerb::Redo => bench.desk.redo(),
        RunVerb::Skip => bench.desk.skip(),
        RunVerb::Stop => bench.desk.stop_guided(),
        RunVerb::Review => bench.review_aside = false,
    }
}

fn link(bench: &mut Bench, verb: LinkVerb) {
    let desk = &mut bench.desk;
    match verb {
        LinkVerb::Choose => choose(bench),
        LinkVerb::StopOpening => desk.stop_opening(),
        LinkVerb::Open(path) => open(bench, &path),
        LinkVerb::Connect(address) => connect(bench, &address),
        LinkVerb::Disconnect => {
            bench.tell(&News::Disconnected);
            bench.desk.disconnect();
        }
        LinkVerb::HandOver => desk.hand_over(),
        LinkVerb::Record if desk.is_recording() => desk.stop_recording(),
        LinkVerb::Record => desk.record_into(&bench.settings.session_folder()),
        LinkVerb::KeepLast => desk.keep_last(),
        LinkVerb::Send(line) => desk.send_text(&line),
        // A real board has no such hand: then nothing moves.
        LinkVerb::Hand(Touch::Stick(half, to)) => {
            desk.hand().into_iter().for_each(|hand| hand.drag(half, to));
        }
        LinkVerb::Hand(Touch::Trigger(half, to)) => {
            desk.hand().into_iter().for_each(|hand| hand.pull(half, to));
        }
        LinkVerb::Press(button) => {
            desk.hand().into_iter().for_each(|hand| hand.press(button.into()));
        }
        LinkVerb::Practise => {
            // The fault is named in Wiring: it comes up with the board.
            desk.practise();
            bench.bring_up(Screen::Wiring);
        }
        LinkVerb::NameFault(code) => desk.name_fault(&code),
        LinkVerb::LeavePractice => desk.leave_practice(),
    }
}

/// What changes the document.
fn edit(desk: &mut Desk, verb: EditVerb) {
    match verb {
        EditVerb::SetRole(field, role) => desk.set_role(field, role),
        EditVerb::CheckOff(code, place, reason) => desk.check_off(code, place, &reason),
        EditVerb::TakeNames => desk.take_names_found(),
        EditVerb::ChooseZone(place, counts) => desk.choose_zone(place, counts),
        EditVerb::Correct(half, wanted) => desk.correct(half, wanted),
        EditVerb::SetRig(rig) => desk.set_rig(*rig),
        EditVerb::SetLimits(limits) => desk.set_limits(limits.map(|l| *l)),
        EditVerb::Mark => desk.set_mark(),
        EditVerb::Undo => desk.undo_edit(),
        EditVerb::Redo => desk.redo_edit(),
    }
}

fn output(bench: &mut Bench, ctx: &Context, verb: OutputVerb) {
    match verb {
        OutputVerb::Save(what) => save(bench, what),
        OutputVerb::SaveInto(folder) => {
            bench.settings.folder = (!folder.as_os_str().is_empty()).then_some(folder);
        }
        OutputVerb::ChooseRecord => choose_record(bench),
        OutputVerb::TakeRecord(path) => take_record(bench, &path),
        OutputVerb::TakeOwnConstants => bench.desk.take_own_constants(),
        OutputVerb::PutRecordAway => bench.desk.put_record_away(),
        OutputVerb::SaveProof => save_proof(bench),
        OutputVerb::Picture => bench.camera.take(ctx),
        OutputVerb::Copy(text) => ctx.copy_text(text),
        OutputVerb::CopyFigures => match bench.copied() {
            Some(text) => {
                ctx.copy_text(text);
                bench.desk.notify(Weight::Done, "The station's figures are on the clipboard");
            }
            None => bench.desk.notify(Weight::Note, "There are no figures to copy here yet"),
        },
    }
}

fn time(bench: &mut Bench, verb: TimeVerb) {
    let desk = &mut bench.desk;
    match verb {
        TimeVerb::Play => {
            let end_us = desk.timebase().end_us();
            desk.transport.toggle(0, end_us);
        }
        TimeVerb::Step(forward) => {
            let step_us = STEP_US as i64;
            desk.transport.step(if forward { step_us } else { -step_us });
        }
        TimeVerb::Speed(faster) => desk.transport.change_speed(if faster { 1 } else { -1 }),
        TimeVerb::Follow => {
            desk.transport.following = true;
            bench.tell(&News::Followed);
        }
        TimeVerb::Seek(t_us) => desk.transport.seek(t_us),
        TimeVerb::Jump(what, forward) => desk.jump(what, forward),
    }
}

/// The traces keep their look to themselves; what is to be shown brings them up.
fn trace(bench: &mut Bench, verb: TraceVerb) {
    if matches!(verb, TraceVerb::Inspect(_)) {
        bench.bring_up(Screen::Traces);
    }
    bench.each_station(|station, view| station.trace(verb, view));
}

/// How the window looks and sounds, and what it remembers.
fn window(bench: &mut Bench, ctx: &Context, verb: WindowVerb) {
    match verb {
        WindowVerb::Keep(settings) => bench.settings = *settings,
        WindowVerb::PutAway(id) => bench.desk.put_away(id),
        WindowVerb::NextTheme => {
            bench.settings.next_theme();
            ctx.set_theme(bench.settings.theme);
        }
        WindowVerb::Tones => match bench.tones.can() {
            Ok(()) => {
                bench.settings.tones ^= true;
                let on = if bench.settings.tones { "on" } else { "off" };
                bench.desk.notify(Weight::Done, format!("Tones in the guided run are {on}"));
            }
            Err(why) => bench.desk.notify(Weight::Refused, why),
        },
        WindowVerb::Larger => rescale(bench, ctx, 1),
        WindowVerb::Smaller => rescale(bench, ctx, -1),
        WindowVerb::NormalSize => rescale(bench, ctx, 0),
        WindowVerb::Help => bench.help = !bench.help,
        WindowVerb::Quit => ctx.send_viewport_cmd(ViewportCommand::Close),
    }
}

fn rescale(bench: &mut Bench, ctx: &Context, by: i8) {
    bench.settings.rescale(by);
    ctx.set_zoom_factor(bench.settings.scale);
}

fn connect(bench: &mut Bench, address: &str) {
    match address.parse::<Address>() {
        Ok(address) => bench.begin_with(&address),
        Err(why) => bench.desk.notify(Weight::Refused, why.to_string()),
    }
}

/// Opens a session or a log; a `.ron` file is a parts list for the session under work.
pub(super) fn open(bench: &mut Bench, path: &Path) {
    bench.tell(&News::Opened(path));
    if super::app::is_ron(path) {
        return take_rig(bench, path);
    }
    bench.settings.remember(path);
    bench.desk.open(path);
}

fn take_rig(bench: &mut Bench, path: &Path) {
    let name = path.display().to_string();
    if name.ends_with(".trim.ron") {
        return take_record(bench, path);
    }
    let read = small_text(path)
        .map_err(|why| format!("{name}: {why}; choose another file"))
        .and_then(|text| Rig::from_ron(&text, &name).map_err(|e| e.to_string()));
    match read {
        Ok(rig) => {
            bench.desk.set_rig(rig);
            let text = format!("{name}: this parts list is in force now; Ctrl+Z takes it back");
            bench.desk.notify(Weight::Done, text);
        }
        Err(why) => bench.desk.notify(Weight::Refused, why),
    }
}

/// Constants are there to prove a flashed board: Proof comes up with them.
fn take_record(bench: &mut Bench, path: &Path) {
    bench.desk.take_record(path);
    bench.bring_up(Screen::Proof);
}

fn choose_record(bench: &mut Bench) {
    let chosen: Option<PathBuf> = rfd::FileDialog::new()
        .set_title("Open the record of the constants that were flashed")
        .add_filter("records of constants", &["ron"])
        .pick_file();
    match chosen {
        Some(path) => take_record(bench, &path),
        None => bench.desk.notify(
            Weight::Note,
            "No record was chosen; its path can also be typed in Proof, or the file dropped onto \
             the window",
        ),
    }
}

/// Saves beside the other outputs, under the session's name.
fn save_proof(bench: &mut Bench) {
    let folder = bench.settings.output_folder(bench.desk.path());
    let path = folder.join(format!("{}.proof.json", output_stem(&bench.desk)));
    bench.desk.save_proof(&path);
}

/// Asks for a file; without a file portal on this machine the path can be typed in Link.
fn choose(bench: &mut Bench) {
    let chosen: Option<PathBuf> = rfd::FileDialog::new()
        .set_title("Open a session or a text log")
        .add_filter("sessions and logs", &["session", "log", "txt", "csv"])
        .add_filter("any file", &["*"])
        .pick_file();
    match chosen {
        Some(path) => open(bench, &path),
        None => bench
            .desk
            .notify(Weight::Note, "No file was chosen; a file can also be dropped onto the window"),
    }
}

/// Saves under the controller's or the session's name into the chosen folder.
fn save(bench: &mut Bench, what: Saved) {
    let folder = bench.settings.output_folder(bench.desk.path());
    let path = folder.join(format!("{}.{}", output_stem(&bench.desk), what.ending()));
    bench.desk.save(what, &path);
}

/// A file name from the session's file, else from the controller's name: letters, digits, dashes.
pub(super) fn output_stem(desk: &Desk) -> String {
    let rig = desk.rig();
    let name = match desk.path().and_then(|p| p.file_stem()) {
        Some(stem) => stem.to_string_lossy().into_owned(),
        None => format!("{} {}", rig.name, rig.board_id),
    };
    plain_name(&name)
}
