//! The only place where the window changes anything: actions in, verbs of the desk called.
use std::path::{Path, PathBuf};

use egui::{Context, ViewportCommand};

use super::actions::{Action, RunVerb, Station, Touch};
use super::app::Bench;
use super::viewing::Viewing;
use crate::desk::{Desk, Saved, Weight, plain_name};
use crate::rig::Rig;
use crate::source::Address;

/// Does what a person asked for.
pub fn apply(bench: &mut Bench, ctx: &Context, action: Action) {
    bench.tell_stations(&action);
    let desk = &mut bench.desk;
    match action {
        Action::Show(place) => {
            bench.place = place;
            bench.review_aside = true;
        }
        Action::Review => bench.review_aside = false,
        Action::Help => bench.help = !bench.help,
        Action::NextTheme | Action::Scale(_) | Action::Tones => comfort(bench, ctx, &action),
        Action::Connect(address) => connect(bench, &address),
        Action::Disconnect => desk.disconnect(),
        Action::Record if desk.is_recording() => desk.stop_recording(),
        Action::Record => desk.record_into(&bench.settings.session_folder()),
        Action::Keep(settings) => bench.settings = *settings,
        Action::Choose => choose(bench),
        Action::Open(path) => open(bench, &path),
        Action::StopOpening => desk.stop_opening(),
        Action::Send(line) => desk.send_text(&line),
        Action::Hand(touch) => touch_board(desk, touch),
        Action::Practise => practise(bench),
        Action::Run(verb) => run(bench, verb),
        Action::Play => {
            let end_us = desk.timebase().end_us();
            desk.transport.toggle(0, end_us);
        }
        Action::Speed(by) => desk.transport.change_speed(by.into()),
        Action::Follow => desk.transport.following = true,
        Action::Seek(t_us) => desk.transport.seek(t_us),
        Action::Step(by_us) => desk.transport.step(by_us),
        Action::Mark => desk.set_mark(),
        Action::Inspect(_) => {
            bench.place = Station::Traces;
            bench.review_aside = true;
        }
        Action::Save(what) => save(bench, what),
        Action::SaveInto(folder) => {
            bench.settings.folder = (!folder.as_os_str().is_empty()).then_some(folder);
        }
        Action::ChooseRecord => choose_record(bench),
        Action::TakeRecord(path) => take_record(bench, &path),
        Action::TakeOwnConstants => desk.take_own_constants(),
        Action::PutRecordAway => desk.put_record_away(),
        Action::SaveProof => save_proof(bench),
        Action::Copy(text) => ctx.copy_text(text),
        Action::PutAway(id) => desk.put_away(id),
        Action::View(verb) => view(bench, ctx, verb),
        Action::Picture => bench.camera.take(ctx),
        Action::Quit => ctx.send_viewport_cmd(ViewportCommand::Close),
        other => edit(desk, other),
    }
    ctx.request_repaint();
}

/// How the window looks and sounds.
fn comfort(bench: &mut Bench, ctx: &Context, action: &Action) {
    match action {
        Action::NextTheme => {
            bench.settings.next_theme();
            ctx.set_theme(bench.settings.theme);
        }
        Action::Scale(by) => {
            bench.settings.rescale(*by);
            ctx.set_zoom_factor(bench.settings.scale);
        }
        _ => match bench.tones.can() {
            Ok(()) => {
                bench.settings.tones ^= true;
                let on = if bench.settings.tones { "on" } else { "off" };
                bench.desk.notify(Weight::Done, format!("Tones in the guided run are {on}"));
            }
            Err(why) => bench.desk.notify(Weight::Refused, why),
        },
    }
}

/// The fault is named in Wiring: it comes up with the board.
fn practise(bench: &mut Bench) {
    bench.desk.practise();
    bench.place = Station::Wiring;
    bench.review_aside = true;
}

/// What changes the document.
fn edit(desk: &mut Desk, action: Action) {
    match action {
        Action::SetRole { field, role } => desk.set_role(field, role),
        Action::CheckOff(code, place, reason) => desk.check_off(code, place, &reason),
        Action::TakeNames => desk.take_names_found(),
        Action::NameFault(code) => desk.name_fault(&code),
        Action::LeavePractice => desk.leave_practice(),
        Action::ChooseZone(place, counts) => desk.choose_zone(place, counts),
        Action::Correct(half, wanted) => desk.correct(half, wanted),
        Action::SetRig(rig) => desk.set_rig(*rig),
        Action::SetLimits(limits) => desk.set_limits(limits.map(|l| *l)),
        Action::Undo => desk.undo_edit(),
        Action::Redo => desk.redo_edit(),
        // The stations keep the rest to themselves; they have been told.
        _ => {}
    }
}

/// The timeline's part of what is looked at; the stations have heard theirs.
fn view(bench: &mut Bench, ctx: &Context, verb: Viewing) {
    match verb {
        Viewing::Jump(what, forward) => bench.desk.jump(what, forward),
        Viewing::Copy => match bench.copied() {
            Some(text) => {
                ctx.copy_text(text);
                bench.desk.notify(Weight::Done, "The station's figures are on the clipboard");
            }
            None => bench.desk.notify(Weight::Note, "There are no figures to copy here yet"),
        },
        _ => {}
    }
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
    }
}

/// A real board has no such hand: then nothing moves.
fn touch_board(desk: &Desk, touch: Touch) {
    let Some(hand) = desk.hand() else { return };
    match touch {
        Touch::Stick(half, to) => hand.drag(half, to),
        Touch::Trigger(half, to) => hand.pull(half, to),
        Touch::Press(button) => hand.press(button.into()),
    }
}

fn connect(bench: &mut Bench, address: &str) {
    match address.parse::<Address>() {
        Ok(address) => bench.begin_with(&address),
        Err(why) => bench.desk.notify(Weight::Refused, why.to_string()),
    }
}

/// Opens a session or a log; a `.ron` file is a parts list for the session under work.
pub(super) fn open(bench: &mut Bench, path: &Path) {
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
    let read = std::fs::read_to_string(path)
        .map_err(|e| format!("{name}: cannot be read ({e}); choose another file"))
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
    bench.place = Station::Proof;
    bench.review_aside = true;
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
