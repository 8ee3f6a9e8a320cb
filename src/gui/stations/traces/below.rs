//! What stands below the traces: figures, spectrum, histogram or Allan deviation of what is in sight.
use std::ops::Range;

use egui::Ui;

use super::channels::Channel;
use super::figures::{self, FigureLine};
use super::lanes::{LineKey, rows_of};
use super::spread::{Kind, Of};
use super::{Seen, Traces};
use crate::gui::actions::Action;
use crate::gui::look::Type;
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::ruler::Ruler;

/// What stands below the traces.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Below {
    #[default]
    Figures,
    Spectrum,
    Histogram,
    Allan,
}

impl Traces {
    /// Figures or a picture of the rows in sight.
    pub(super) fn below_ui(
        &mut self,
        ui: &mut Ui,
        seen: Seen<'_>,
        rows: Range<usize>,
        actions: &mut Vec<Action>,
    ) {
        let desk = seen.desk;
        let fields = seen.planned.iter().flat_map(|lane| &lane.lines).map(|line| line.channel);
        let mut levels: Vec<Channel> =
            fields.filter(|c| c.field(desk.session()).is_some()).collect();
        levels.dedup();
        let chosen = self.spread_of.filter(|c| levels.contains(c)).or(levels.first().copied());
        ui.horizontal(|ui| {
            ui.label(Type::Title.text(ui, "Visible span"));
            let names = ["Figures", "Spectrum", "Histogram", "Allan"];
            if let Some(k) = choice_ui(ui, &names, self.below as usize) {
                self.below = [Below::Figures, Below::Spectrum, Below::Histogram, Below::Allan][k];
            }
            match (self.below, chosen) {
                (Below::Figures, _) | (_, None) => {
                    let samples = *self.samples.of(ui.ctx(), || rows.len());
                    let ruler = Ruler::of(desk.row_us());
                    figures::cursors_ui(ui, samples, self.picture.cursors, ruler);
                }
                (_, Some(chosen)) => {
                    let list = egui::ComboBox::from_id_salt("spread of").width(128.0);
                    let list = list.selected_text(chosen.name(desk)).show_ui(ui, |ui| {
                        for channel in &levels {
                            let name = channel.name(desk);
                            if ui.selectable_label(*channel == chosen, name).clicked() {
                                self.spread_of = Some(*channel);
                            }
                        }
                    });
                    list.response.accessible_name("Channel of the picture");
                }
            }
        });
        let kind = match self.below {
            Below::Spectrum => Kind::Spectrum,
            Below::Histogram => Kind::Histogram,
            Below::Allan => Kind::Allan,
            Below::Figures => {
                self.figures_ui(ui, seen, rows, actions);
                return;
            }
        };
        match chosen.and_then(|c| Some((c, c.field(desk.session())?))) {
            Some((channel, field)) => {
                let axis = match channel {
                    Channel::Axis(axis) => Some(axis),
                    _ => None,
                };
                let of = Of { kind, field, axis, name: channel.name(desk) };
                self.spread.ui(ui, desk, &of, rows, actions);
            }
            None => drop(ui.label(Type::Label.soft(ui, "Tick a channel that is no contact"))),
        }
    }

    /// The table of figures; other lines or cursors come at once, other values when they can be read.
    fn figures_ui(
        &mut self,
        ui: &mut Ui,
        seen: Seen<'_>,
        rows: Range<usize>,
        actions: &mut Vec<Action>,
    ) {
        let keys: Vec<LineKey> =
            seen.planned.iter().flat_map(|lane| &lane.lines).copied().collect();
        let (of, at, mut held) = std::mem::take(&mut self.table);
        if of != keys || at != self.picture.cursors {
            held.forget();
        }
        let cells = held.of(ui.ctx(), || {
            figures::cells(seen.desk, &self.figure_lines(seen), &rows, self.picture.cursors)
        });
        figures::figures_ui(ui, cells, self.picture.cursors, actions);
        self.table = (keys, self.picture.cursors, held);
    }

    /// The lines of the table of figures: one a line of the picture.
    pub(super) fn figure_lines<'a>(&'a self, seen: Seen<'a>) -> Vec<FigureLine<'a>> {
        let Seen { desk, trim, planned } = seen;
        let lines = planned.iter().flat_map(|lane| &lane.lines);
        lines
            .map(|key| FigureLine {
                name: key.channel.name(desk),
                form: key.form,
                contact: match key.channel {
                    Channel::Button(bit) => Some((&self.contacts, bit)),
                    _ => None,
                },
                rows: rows_of(desk, &self.contacts, &self.outputs, trim, *key),
            })
            .collect()
    }
}
