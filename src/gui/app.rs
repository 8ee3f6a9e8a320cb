//! The window's shell: drains what came in, lays out bar, rail, page and timeline, applies actions.
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use eframe::{CreationContext, Frame as Host, Storage};
use egui::{Align, Context, Frame, Layout, Margin, Panel, Ui};

use super::actions::{Action, LinkVerb, RunVerb, Screen, WindowVerb};
use super::camera::{self, Camera};
use super::frame_log::FrameLog;
use super::look::{Palette, size};
use super::parts::held::Held;
use super::parts::link_bar::{LinkBar, LinkMark, link_bar_ui};
use super::parts::numbers;
use super::parts::rail::{RailEntry, rail_ui};
use super::parts::state_mark::State;
use super::settings::Settings;
use super::stations::{self, News, Station, View};
use super::tones::Tones;
use super::{apply, help, keys, look, notices, run, time, welcome};
use crate::desk::{Desk, FeedKind, Weight};
use crate::rig::Task;
use crate::source::{Address, LinkState};

/// How long to wait between frames while something moves by itself.
const FRAME: Duration = Duration::from_millis(16);

/// Everything that the window holds.
pub struct Bench {
    /// The session under work; changed only by `apply`.
    pub desk: Desk,
    /// The station on screen.
    pub place: Screen,
    /// Every station, in the order of the rail.
    pub stations: Vec<Box<dyn Station>>,
    /// What is remembered between runs.
    pub settings: Settings,
    /// The list of keys is shown.
    pub help: bool,
    /// The overview of the session, kept between frames.
    pub overview: time::Overview,
    /// The figures of the link bar, as they are read.
    pub link_figures: Held<Vec<String>>,
    /// The task of the guided run whose station was brought up.
    pub shown_task: Option<Task>,
    /// A station is looked at while the review waits.
    pub review_aside: bool,
    /// The welcome of the first start is shown.
    pub welcome: bool,
    /// Sounds what the guided run asks.
    pub tones: Tones,
    /// Takes pictures of the window.
    pub camera: Camera,
    /// Notes when frames were drawn, where somebody measures that.
    pub frame_log: Option<FrameLog>,
}

impl Bench {
    /// The window's state at its start. The desk wakes the window from any thread.
    pub fn new(cc: &CreationContext<'_>) -> Bench {
        let settings: Settings = cc
            .storage
            .and_then(|storage| eframe::get_value(storage, eframe::APP_KEY))
            .unwrap_or_default();
        let ctx = cc.egui_ctx.clone();
        look::install(&ctx);
        ctx.set_theme(settings.theme);
        ctx.set_zoom_factor(settings.scale);
        ctx.options_mut(|o| {
            // Both are actions here, with the same keys.
            o.quit_shortcuts.clear();
            o.zoom_with_keyboard = false;
        });
        let waker = ctx.clone();
        // One frame a wake: an immediate request would make two.
        let wake = Arc::new(move || waker.request_repaint_after(Duration::from_millis(1)));
        let mut stations = stations::all();
        stations.iter_mut().for_each(|station| station.restore(&settings));
        Bench {
            desk: Desk::new(wake),
            place: settings.place,
            stations,
            settings,
            help: false,
            overview: time::Overview::default(),
            link_figures: Held::default(),
            shown_task: None,
            review_aside: false,
            welcome: false,
            tones: Tones::found_in(&std::env::var_os("PATH").unwrap_or_default()),
            camera: Camera::default(),
            frame_log: None,
        }
    }

    /// Connects to a source and records it as the settings say.
    pub fn begin_with(&mut self, address: &Address) {
        self.tell(&News::Connected(address));
        let folder = self.settings.session_folder();
        let keep = self.settings.keep(address, &folder);
        match self.desk.connect(address, &self.settings.wishes(), keep) {
            Ok(()) => {
                if let Address::Serial { path, baud } = address {
                    self.settings.port.path.clone_from(path);
                    self.settings.port.baud = *baud;
                }
            }
            Err(why) => self.desk.notify(Weight::Refused, why.to_string()),
        }
    }

    /// Opens files as if they had been dropped: what is in force for a session follows the session.
    pub fn open_all(&mut self, paths: &[PathBuf]) {
        let (parts, sessions): (Vec<&PathBuf>, Vec<_>) = paths.iter().partition(|p| is_ron(p));
        for path in sessions.into_iter().chain(parts) {
            apply::open(self, path);
        }
    }

    /// Tells every station what concerns what it keeps to itself.
    pub fn tell(&mut self, news: &News<'_>) {
        self.each_station(|station, view| station.told(news, view));
    }

    /// Calls on every station, with the session as it stands.
    pub fn each_station(&mut self, mut tell: impl FnMut(&mut dyn Station, &View<'_>)) {
        let folder = self.settings.output_folder(self.desk.path());
        let view = View { desk: &self.desk, folder: &folder, settings: &self.settings };
        self.stations.iter_mut().for_each(|station| tell(station.as_mut(), &view));
    }

    /// Brings up a station; a review that waits is put aside for it.
    pub(super) fn bring_up(&mut self, place: Screen) {
        self.place = place;
        self.review_aside = true;
    }

    /// The figures of the station on screen as a table of text.
    pub fn copied(&self) -> Option<String> {
        let folder = self.settings.output_folder(self.desk.path());
        let view = View { desk: &self.desk, folder: &folder, settings: &self.settings };
        self.stations.get(self.place.index()).and_then(|station| station.copied(&view))
    }

    /// Brings up the station of the guided run's task when the task changes.
    fn follow_run(&mut self) {
        let task = self.desk.guided().and_then(|run| run.task());
        if let (true, Some(task)) = (task != self.shown_task, task) {
            self.place = run::place_of(task);
        }
        if task != self.shown_task {
            self.review_aside = false;
        }
        self.shown_task = task;
    }

    /// Sounds what the run asks of a person; a recording asks nothing of anybody.
    fn sound_run(&mut self) {
        let live = self.desk.link().state.is_some();
        let run = self.desk.guided().filter(|run| live && run.task().is_some());
        if let Some(why) = self.tones.follow(run.map(|r| r.prompt()), self.settings.tones) {
            self.desk.notify(Weight::Refused, why);
        }
    }

    /// Saves a picture under the station's name, beside the other outputs.
    fn keep_picture(&mut self, image: &egui::ColorImage) {
        let folder = self.settings.output_folder(self.desk.path());
        let station = Action::Show(self.place).label().to_lowercase();
        let (weight, words) = match camera::save(image, &folder, &station) {
            Ok(path) => (Weight::Done, format!("Saved {}", path.display())),
            Err(why) => (Weight::Refused, why),
        };
        self.desk.notify(weight, words);
    }

    fn gather_input(&self, ctx: &Context) -> Vec<Action> {
        let mut found = keys::pressed(ctx, self.desk.guided().is_some());
        let dropped = ctx
            .input(|i| i.raw.dropped_files.iter().map(|f| f.path().to_owned()).collect::<Vec<_>>());
        found.extend(dropped.into_iter().map(|path| LinkVerb::Open(path).into()));
        // A parts list dropped together with a session is meant for it.
        found.sort_by_key(
            |action| matches!(action, Action::Link(LinkVerb::Open(path)) if is_ron(path)),
        );
        found
    }

    fn layout(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        let p = Palette::of(ui);
        let paper = |fill| Frame::new().fill(fill);
        Panel::top("link bar")
            .exact_size(size::LINK_BAR)
            .frame(paper(p.card))
            .show(ui, |ui| self.link_bar(ui, actions));
        Panel::bottom("timeline").exact_size(size::TIMELINE).frame(paper(p.card)).show(ui, |ui| {
            let station = self.stations.get(self.place.index());
            let window_us = station.and_then(|s| s.window_us(&self.desk));
            self.overview.timeline_ui(ui, &self.desk, window_us, actions);
        });
        Panel::left("rail")
            .exact_size(size::RAIL)
            .resizable(false)
            .frame(paper(p.card))
            .show(ui, |ui| self.rail(ui, actions));
        let page = paper(p.page).inner_margin(Margin::same(size::PAGE as i8));
        egui::CentralPanel::default().frame(page).show(ui, |ui| self.page(ui, actions));
    }

    fn page(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        // The run and the welcome's own button end it.
        self.welcome &= self.desk.guided().is_none();
        if self.welcome && welcome::welcome_ui(ui, actions) {
            self.welcome = false;
        }
        notices::notices_ui(ui, self.desk.notices(), actions);
        notices::progress_ui(ui, &self.desk, actions);
        let rest = ui.available_rect_before_wrap();
        let folder = self.settings.output_folder(self.desk.path());
        let view = View { desk: &self.desk, folder: &folder, settings: &self.settings };
        let rest = match self.desk.guided() {
            Some(run) if run.task().is_none() && self.review_aside => {
                run::waiting_ui(ui, rest, actions)
            }
            Some(run) if run.task().is_none() => {
                return run::review_ui(ui, rest, &view, run, actions);
            }
            Some(run) => run::prompt_ui(ui, rest, self.desk.rig(), run, actions),
            None => rest,
        };
        if let Some(station) = self.stations.get_mut(self.place.index()) {
            let builder = egui::UiBuilder::new().max_rect(rest).id_salt(self.place.index());
            ui.scope_builder(builder, |ui| station.ui(ui, &view, actions));
        }
    }

    fn rail(&self, ui: &mut Ui, actions: &mut Vec<Action>) {
        let folder = Path::new("");
        let view = View { desk: &self.desk, folder, settings: &self.settings };
        let in_work = self.desk.guided().and_then(|run| run.task()).map(run::place_of);
        let keys: Vec<String> =
            Screen::ALL.iter().map(|place| Action::Show(*place).key_words(ui.ctx())).collect();
        let entries: Vec<RailEntry<'_>> = self
            .stations
            .iter()
            .zip(&keys)
            .map(|(station, key)| RailEntry {
                title: Action::Show(station.screen()).label(),
                state: match in_work == Some(station.screen()) {
                    true => State::Now,
                    false => station.state(&view),
                },
                key,
                missing: station.missing(&view),
            })
            .collect();
        if let Some(k) = rail_ui(ui, &entries, self.place.index(), run::progress(&self.desk)) {
            actions.push(Action::Show(Screen::ALL[k]));
        }
    }

    fn link_bar(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        let link = self.desk.link();
        let rig = self.desk.rig();
        let rig_name = match (rig.name.as_str(), rig.board_id.as_str()) {
            ("", "") => "Controller without a name".to_owned(),
            (name, "") => name.to_owned(),
            ("", board) => format!("board {board}"),
            (name, board) => format!("{name}, board {board}"),
        };
        let figures = self.link_figures.of(ui.ctx(), || link_figures(&self.desk));
        let time = format!(
            "{}, {}",
            numbers::minutes(link.recorded.as_micros() as u64),
            numbers::bytes(link.recorded_bytes)
        );
        let file = link.recording.as_deref().map_or(String::new(), file_name);
        let bar = LinkBar {
            rig: &rig_name,
            mark: match (link.kind, link.state) {
                (FeedKind::Nothing, _) => LinkMark::None,
                (_, Some(LinkState::Live)) => LinkMark::Live,
                (_, Some(LinkState::Waiting | LinkState::HandedOver)) => LinkMark::Waiting,
                _ => LinkMark::File,
            },
            source: &link.name,
            figures,
            recording: link.recording.is_some().then_some((time.as_str(), file.as_str())),
        };
        // The button that starts the run, and without it.
        let right = if self.desk.guided().is_none() { 372.0 } else { 212.0 };
        ui.horizontal_centered(|ui| {
            link_bar_ui(ui, &bar, right);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.add_space(16.0);
                // During a run its own card has its verbs.
                let start = self.desk.guided().is_none().then_some(Action::Run(RunVerb::Start));
                for action in
                    [Action::Window(WindowVerb::Help), Action::Window(WindowVerb::NextTheme)]
                        .into_iter()
                        .chain(start)
                {
                    let framed = matches!(action, Action::Run(_));
                    let button = egui::Button::new(action.label()).frame(framed);
                    if ui.add(button).on_hover_text(action.hint()).clicked() {
                        actions.push(action);
                    }
                    ui.add_space(8.0);
                }
            });
        });
    }
}

/// Figures of the link bar in words.
fn link_figures(desk: &Desk) -> Vec<String> {
    let link = desk.link();
    let mut figures = Vec::new();
    match link.rate_hz {
        Some(hz) => figures.push(format!("{} frames/s", numbers::number(hz, 1))),
        None => figures.push(format!("{} frames", numbers::grouped(link.frames))),
    }
    if let Some(lost) = link.lost {
        figures.push(format!("{} lost", numbers::grouped(lost)));
    }
    figures.push(format!("{} malformed", numbers::grouped(link.malformed)));
    if let Some(ms) = link.interval_p99_ms {
        figures.push(format!("interval p99 {}\u{a0}ms", numbers::number(ms, 2)));
    }
    if link.waiting > 0 {
        figures.push(format!("{} waiting", numbers::grouped(link.waiting)));
    }
    figures
}

/// True for files that a person may write: parts lists, constants.
pub(super) fn is_ron(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("ron"))
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

impl eframe::App for Bench {
    fn logic(&mut self, ctx: &Context, _host: &mut Host) {
        self.desk.tick();
        if let Some(image) = self.camera.developed() {
            self.keep_picture(&image);
        }
        self.follow_run();
        self.sound_run();
        if self.desk.transport.playing || self.desk.is_catching_up() {
            ctx.request_repaint_after(FRAME);
        }
    }

    fn ui(&mut self, ui: &mut Ui, _host: &mut Host) {
        if let Some(log) = &mut self.frame_log {
            log.note();
        }
        let mut actions = self.gather_input(ui.ctx());
        self.layout(ui, &mut actions);
        if self.help {
            help::help_ui(ui.ctx(), &mut actions);
        }
        let ctx = ui.ctx().clone();
        for action in actions {
            apply::apply(self, &ctx, action);
        }
    }

    /// A recording is closed with its last checkpoint, whoever closes the window.
    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        self.desk.disconnect();
        if let Some(log) = &self.frame_log {
            log.close();
        }
    }

    fn save(&mut self, storage: &mut dyn Storage) {
        self.settings.place = self.place;
        self.stations.iter().for_each(|station| station.remember(&mut self.settings));
        eframe::set_value(storage, eframe::APP_KEY, &self.settings);
    }

    fn persist_egui_memory(&self) -> bool {
        false
    }
}
