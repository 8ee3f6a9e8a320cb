//! The window: stations look and return actions, one place applies them.
pub mod actions;
pub mod app;
mod apply;
mod camera;
mod help;
pub mod look;
mod notices;
pub mod parts;
mod run;
pub mod settings;
pub mod stations;
mod time;

use eframe::NativeOptions;
use egui::ViewportBuilder;

use crate::source::Address;

/// How the window begins.
#[derive(Clone, Debug, Default)]
pub struct Start {
    /// The source to connect to; `None` = nothing.
    pub connect: Option<Address>,
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
        if let Some(address) = start.connect {
            bench.begin_with(&address);
        }
        Ok(Box::new(bench) as Box<dyn eframe::App>)
    };
    eframe::run_native("trimbench", options, Box::new(create)).map_err(|e| e.to_string())
}
