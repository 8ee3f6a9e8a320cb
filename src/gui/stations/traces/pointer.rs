//! What the pointer does to the picture of the traces: move, zoom, measure; in the gutter, the lanes.
use egui::{PointerButton, Pos2, Rect, Response, Ui};

use super::picture::{Cursors, GUTTER};
use super::window::TimeWindow;

/// Where the picture and its lanes stand.
pub struct Place<'a> {
    /// The lanes without names and time axis.
    pub body: Rect,
    /// Each lane.
    pub lanes: &'a [Rect],
    /// Time of the newest sample, µs.
    pub end_us: u64,
}

/// What was done to a lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Touch {
    /// It is the one that keys act on from now on.
    Choose,
    /// Its range is to be so many times as high; the value at that share from below stays.
    Zoom(f64, f64),
    /// Its range is to move by a share of its height.
    Shift(f64),
    /// Its range is to follow the data again.
    Free,
}

/// What the pointer holds while a button is down.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Hold {
    /// Nothing.
    #[default]
    Nothing,
    /// The picture, which moves along.
    Picture,
    /// A stretch of time, from one pixel to another, that is to be shown alone.
    Stretch(f32, f32),
    /// The range of a lane.
    Lane(usize),
}

/// Narrower stretches are slips of the hand, points.
const SLIP: f32 = 6.0;

impl Hold {
    /// The stretch held now, left to right, pixels.
    pub fn stretch(self) -> Option<[f32; 2]> {
        match self {
            Hold::Stretch(a, b) => Some([a.min(b), a.max(b)]),
            _ => None,
        }
    }
}

/// Follows wheel, drag and click; gives what was done to a lane.
///
/// In the picture: wheel zooms in time, drag moves, drag with Shift or the right button shows the
/// stretch alone, click sets a cursor, double click clears both. In the gutter the wheel zooms the
/// lane's range, drag moves it, click chooses the lane, double click lets it follow the data.
pub fn follow(
    ui: &Ui,
    response: &Response,
    place: &Place<'_>,
    window: &mut TimeWindow,
    cursors: &mut Cursors,
    hold: &mut Hold,
) -> Option<(usize, Touch)> {
    let wheel = response.contains_pointer().then(|| wheel(ui)).filter(|f| *f != 1.0);
    if let (Some(factor), Some(at)) = (wheel, response.hover_pos()) {
        // The wheel zooms here; the page behind the picture does not scroll as well.
        ui.input_mut(|i| i.smooth_scroll_delta.y = 0.0);
        match place.lane_by_name(at) {
            Some(k) => return Some((k, Touch::Zoom(factor, share_of(place.lanes[k], at)))),
            None => {
                let at = at.x.clamp(place.body.left(), place.body.right());
                window.zoom(factor, place.time_at(window, at), place.end_us);
            }
        }
    }
    if let Some(touch) = clicked(response, place, window, cursors) {
        return Some(touch);
    }
    dragged(ui, response, place, window, hold)
}

/// Factor by which the wheel, or two fingers, zoom; 1 = not at all.
fn wheel(ui: &Ui) -> f64 {
    let (wheel, pinch) = ui.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
    (-f64::from(wheel) / 240.0).exp2() / f64::from(pinch)
}

fn clicked(
    response: &Response,
    place: &Place<'_>,
    window: &TimeWindow,
    cursors: &mut Cursors,
) -> Option<(usize, Touch)> {
    let double = response.double_clicked();
    if !double && !response.clicked() {
        return None;
    }
    let at = response.interact_pointer_pos()?;
    if let Some(k) = place.lane_by_name(at) {
        return Some((k, if double { Touch::Free } else { Touch::Choose }));
    }
    if double {
        *cursors = Cursors::default();
    } else if place.body.x_range().contains(at.x) {
        cursors.put(place.time_at(window, at.x).max(0.0) as u64);
    }
    None
}

fn dragged(
    ui: &Ui,
    response: &Response,
    place: &Place<'_>,
    window: &mut TimeWindow,
    hold: &mut Hold,
) -> Option<(usize, Touch)> {
    if response.drag_started()
        && let Some(at) = ui.input(|i| i.pointer.press_origin())
    {
        let zooms =
            ui.input(|i| i.modifiers.shift) || response.drag_started_by(PointerButton::Secondary);
        *hold = match place.lane_by_name(at) {
            Some(k) => Hold::Lane(k),
            None if zooms => Hold::Stretch(at.x, at.x),
            None => Hold::Picture,
        };
    }
    let mut touch = None;
    if response.dragged() {
        let delta = response.drag_delta();
        match hold {
            Hold::Picture if !window.sweeps() => {
                let per_point = place.us_per_point(window);
                window.pan(-f64::from(delta.x) * per_point, place.end_us);
            }
            Hold::Stretch(_, to) => {
                if let Some(at) = response.interact_pointer_pos() {
                    *to = at.x.clamp(place.body.left(), place.body.right());
                }
            }
            Hold::Lane(k) => {
                let height = place.lanes.get(*k).map_or(1.0, |lane| lane.height().max(1.0));
                touch = Some((*k, Touch::Shift(f64::from(delta.y / height))));
            }
            Hold::Picture | Hold::Nothing => {}
        }
    }
    if response.drag_stopped() {
        if let Some([from, to]) = hold.stretch().filter(|[from, to]| to - from >= SLIP) {
            let [from, to] = [from, to].map(|x| place.time_at(window, x).max(0.0) as u64);
            window.show_exactly(from, to);
        }
        *hold = Hold::Nothing;
    }
    touch
}

/// How far up a lane a place stands, 0 to 1.
fn share_of(lane: Rect, at: Pos2) -> f64 {
    f64::from(((lane.bottom() - at.y) / lane.height().max(1.0)).clamp(0.0, 1.0))
}

impl Place<'_> {
    fn us_per_point(&self, window: &TimeWindow) -> f64 {
        let [left, right] = window.edges(self.end_us).map(|t| t as f64);
        (right - left) / f64::from(self.body.width().max(1.0))
    }

    /// Time under a horizontal pixel, µs.
    fn time_at(&self, window: &TimeWindow, x: f32) -> f64 {
        let left = window.edges(self.end_us)[0] as f64;
        left + f64::from(x - self.body.left()) * self.us_per_point(window)
    }

    /// The lane whose name and numbers stand there.
    fn lane_by_name(&self, at: Pos2) -> Option<usize> {
        let gutter = self.body.left() - GUTTER..self.body.left();
        let inside = |lane: &Rect| lane.y_range().contains(at.y);
        gutter.contains(&at.x).then(|| self.lanes.iter().position(inside)).flatten()
    }
}
