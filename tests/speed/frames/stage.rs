//! The window's own work on a frame without a window: logic, layout, tessellation, on one thread.
use std::time::{Duration, Instant};

use eframe::App;
use egui::{
    Context, Event, Modifiers, MouseWheelSource, MouseWheelUnit, PointerButton, Pos2, RawInput,
    Rect, vec2,
};
use rustix::time::{ClockId, clock_gettime};
use trimbench::gui::actions::{Screen, TraceVerb};
use trimbench::gui::app::Bench;
use trimbench::gui::settings::Record;
use trimbench::measure::Span;

/// Size of the picture in points; one pixel a point.
const SIZE: [f32; 2] = [1600.0, 1000.0];

/// Processor time that this thread has used.
pub fn thread_time() -> Duration {
    let t = clock_gettime(ClockId::ThreadCPUTime);
    Duration::new(t.tv_sec as u64, t.tv_nsec as u32)
}

/// What one frame cost this thread, processor time in ms.
#[derive(Clone, Copy, Debug, Default)]
pub struct Cost {
    /// Taking in what came.
    pub logic: f64,
    /// Stations and shell.
    pub ui: f64,
    /// Shapes to triangles.
    pub tessellation: f64,
}

impl Cost {
    /// All three.
    pub fn whole(&self) -> f64 {
        self.logic + self.ui + self.tessellation
    }
}

/// The window without a window.
pub struct Stage {
    ctx: Context,
    /// What would stand in it.
    pub bench: Bench,
    host: eframe::Frame,
    frames: u64,
}

impl Stage {
    /// An empty window with a station on screen.
    pub fn new(place: Screen) -> Stage {
        let ctx = Context::default();
        let mut bench = Bench::new(&eframe::CreationContext::_new_kittest(ctx.clone()));
        bench.settings.record = Record::Nothing;
        bench.place = place;
        ctx.set_theme(egui::ThemePreference::Dark);
        Stage { ctx, bench, host: eframe::Frame::_new_kittest(), frames: 0 }
    }

    /// One frame, a sixtieth of a simulated second after the last.
    pub fn frame(&mut self, events: Vec<Event>) -> Cost {
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZE.into())),
            time: Some(self.frames as f64 / 60.0),
            predicted_dt: 1.0 / 60.0,
            focused: true,
            max_texture_side: Some(8192),
            events,
            ..RawInput::default()
        };
        self.frames += 1;
        let mut cost = Cost::default();
        let begun = thread_time();
        let (bench, host) = (&mut self.bench, &mut self.host);
        let mut output = self.ctx.run_ui(input, |ui| {
            let before = thread_time();
            bench.logic(ui.ctx(), host);
            cost.logic += ms(thread_time() - before);
            bench.ui(ui, host);
        });
        let drawn = thread_time();
        // Nobody uploads textures here.
        output.textures_delta.clear();
        let triangles = self.ctx.tessellate(output.shapes, output.pixels_per_point);
        std::hint::black_box(&triangles);
        cost.tessellation = ms(thread_time() - drawn);
        cost.ui = ms(drawn - begun) - cost.logic;
        cost
    }

    /// Opens a file and waits until it is read and measured.
    pub fn open(&mut self, path: &std::path::Path) {
        self.bench.desk.open(path);
        self.until("the file", |bench| {
            let read = bench.desk.opening().is_none() && !bench.desk.is_catching_up();
            read && bench.desk.results_are_current()
        });
    }

    /// Frames until something is so.
    pub fn until(&mut self, what: &str, is_so: impl Fn(&Bench) -> bool) {
        let begun = Instant::now();
        while !is_so(&self.bench) {
            assert!(begun.elapsed() < Duration::from_secs(600), "waited in vain: {what}");
            self.frame(Vec::new());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Lets the traces show the whole session.
    pub fn show_all(&mut self) {
        let origin = self.bench.desk.results().and_then(|r| r.tracks.t_us.first().copied());
        let start_us = origin.unwrap_or(0);
        let end_us = start_us + self.bench.desk.timebase().end_us();
        let shown = TraceVerb::Inspect(Span { start_us, end_us });
        self.bench.each_station(|station, view| station.trace(shown, view));
    }

    /// What a hand on the mouse does in one frame over the traces: drags, now and then the wheel.
    pub fn handled(&self) -> Vec<Event> {
        let k = self.frames % 120;
        let x = 700.0 + 300.0 * (k as f32 / 120.0 * std::f32::consts::TAU).sin();
        let at = Pos2::new(x, 300.0);
        let button = |pressed| Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        };
        let wheel = |y: f32| Event::MouseWheel {
            unit: MouseWheelUnit::Point,
            delta: vec2(0.0, y),
            phase: egui::TouchPhase::Move,
            source: MouseWheelSource::Wheel,
            modifiers: Modifiers::NONE,
        };
        let mut events = vec![Event::PointerMoved(at)];
        match k {
            0 => events.push(button(true)),
            90 => events.push(button(false)),
            91..105 => events.push(wheel(40.0)),
            105..119 => events.push(wheel(-40.0)),
            _ => {}
        }
        events
    }
}

fn ms(t: Duration) -> f64 {
    t.as_secs_f64() * 1e3
}
