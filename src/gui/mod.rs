//! The window: stations look and return actions, one place applies them.
pub mod actions;
pub mod app;
mod apply;
mod camera;
mod frame_log;
mod help;
mod keys;
pub mod look;
mod names;
mod notices;
pub mod parts;
mod practice;
mod run;
pub mod settings;
pub mod stations;
mod time;
pub mod tones;
mod verbs;
mod welcome;

use std::path::PathBuf;

use eframe::NativeOptions;
use egui::ViewportBuilder;

use self::frame_log::FrameLog;
use crate::source::Address;

/// How the window begins.
#[derive(Clone, Debug, Default)]
pub struct Start {
    /// The source to connect to; `None` = nothing.
    pub connect: Option<Address>,
    /// Files to open, as if they had been dropped onto the window.
    pub open: Vec<PathBuf>,
    /// Where to write when each frame was drawn.
    pub frame_log: Option<PathBuf>,
}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// There is no display, or no graphics for one; the words say which.
pub fn run(start: Start) -> Result<(), String> {
    let options = NativeOptions {
        viewport: ViewportBuilder::default()
            .with_title("Trimbench")
            .with_app_id("trimbench")
            .with_inner_size([1600.0, 1000.0])
            .with_min_inner_size([1100.0, 640.0]),
        renderer: eframe::Renderer::Glow,
        ..NativeOptions::default()
    };
    let create = move |cc: &eframe::CreationContext<'_>| {
        let mut bench = app::Bench::new(cc);
        bench.frame_log = start.frame_log.map(FrameLog::new);
        bench.desk.look_for_recovered(&bench.settings.session_folder());
        if let Some(address) = start.connect {
            // Settings are kept at the end of every run: without any, this is the first.
            bench.welcome =
                cc.storage.is_none_or(|kept| kept.get_string(eframe::APP_KEY).is_none());
            bench.begin_with(&address);
        }
        bench.open_all(&start.open);
        Ok(Box::new(bench) as Box<dyn eframe::App>)
    };
    eframe::run_native("trimbench", options, Box::new(create)).map_err(|e| e.to_string())
}
