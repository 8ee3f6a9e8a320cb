//! Sheet: read the whole record once more · choose where it goes · save header, sheet, figures.
use crate::measure::DASH;
use egui::{Label, Rect, ScrollArea, TextEdit, Ui};

use super::found::{KEPT_BACK, list_ui};
use super::limits_pane::LimitsPane;
use super::{Station, View, copy_corner, save_buttons};
use crate::desk::{Results, Saved};
use crate::emit;
use crate::findings::{Finding, Severity};
use crate::gui::actions::{Action, OutputVerb, Screen};
use crate::gui::look::{Type, size};
use crate::gui::parts::card::{card_at, cut_right, cut_top, empty_ui, page_ui};
use crate::gui::parts::choice::choice_ui;
use crate::gui::parts::numbers::number;
use crate::gui::parts::table;
use crate::trim::ZonePlace;

/// What the station keeps to itself.
#[derive(Default)]
pub struct Sheet {
    /// Folder as it is being typed; `None` = as the window has it.
    folder: Option<String>,
    /// The summary of the results that were last drawn: rows and text.
    summary: (usize, String),
    limits: LimitsPane,
}

impl Station for Sheet {
    fn screen(&self) -> Screen {
        Screen::Sheet
    }

    fn missing(&self, view: &View<'_>) -> Option<&'static str> {
        view.desk.results().is_none().then_some(
            "The whole record will stand here, ready to be saved, once something is measured",
        )
    }

    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, actions: &mut Vec<Action>) {
        let Some(results) = view.desk.results().cloned() else {
            let sentence = self.missing(view).unwrap_or_default();
            return empty_ui(ui, sentence);
        };
        let folded = ui.available_width() < size::FOLD;
        page_ui(ui, if folded { 940.0 } else { 520.0 }, |ui, page| {
            let (main, side) = if folded {
                cut_top(page, page.height() - 420.0 + size::PAGE)
            } else {
                cut_right(page, 352.0)
            };
            // On a narrow page the buttons take a row more.
            let tall = if main.width() < 760.0 { 140.0 } else { 104.0 };
            let (above, below) = cut_top(main, tall);
            self.saving_ui(ui, above, view, actions);
            self.record_ui(ui, below, &results, actions);
            self.side_ui(ui, side, view, &results, actions);
        });
    }

    fn copied(&self, view: &View<'_>) -> Option<String> {
        view.desk.results().map(|results| emit::summary(&results.report(), emit::Width::FULL))
    }
}

impl Sheet {
    /// What was found, or the bands that it was judged by.
    fn side_ui(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        view: &View<'_>,
        results: &Results,
        actions: &mut Vec<Action>,
    ) {
        card_at(ui, rect, "", |ui| {
            let shown = usize::from(self.limits.is_shown);
            if let Some(k) = choice_ui(ui, &["What stands out", "Limits"], shown) {
                self.limits.is_shown = k == 1;
            }
            ui.add_space(4.0);
            match self.limits.is_shown {
                true => self.limits.ui(ui, view.desk, &results.limits, actions),
                false if view.desk.keeps_back() => {
                    ui.label(Type::Note.soft(ui, KEPT_BACK));
                }
                false => findings_ui(ui, results, actions),
            }
        });
    }

    fn saving_ui(&mut self, ui: &mut Ui, rect: Rect, view: &View<'_>, actions: &mut Vec<Action>) {
        card_at(ui, rect, "", |ui| {
            ui.horizontal(|ui| {
                let label = ui.label("Folder");
                let mut text =
                    self.folder.clone().unwrap_or_else(|| view.folder.display().to_string());
                let wide = (ui.available_width() - 24.0).clamp(80.0, 720.0);
                let field = TextEdit::singleline(&mut text).desired_width(wide);
                let response = ui.add(field).labelled_by(label.id);
                if response.changed() {
                    self.folder = Some(text.clone());
                }
                if response.lost_focus() && self.folder.is_some() {
                    actions.push(Action::Output(OutputVerb::SaveInto(text.into())));
                    self.folder = None;
                }
            });
            ui.horizontal_wrapped(|ui| {
                save_buttons(ui, &view.desk.header_text(), &Saved::ALL, actions);
            });
        });
    }

    fn record_ui(&mut self, ui: &mut Ui, rect: Rect, results: &Results, actions: &mut Vec<Action>) {
        card_at(ui, rect, "Record", |ui| {
            copy_corner(ui, || emit::summary(&results.report(), emit::Width::FULL), actions);
            if self.summary.0 != results.rows || self.summary.1.is_empty() {
                self.summary = (results.rows, emit::summary(&results.report(), emit::Width::FULL));
            }
            ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                constants_ui(ui, results);
                ui.add_space(12.0);
                // Only what is wider than the card moves sideways.
                ScrollArea::horizontal().id_salt("record").auto_shrink([false, true]).show(
                    ui,
                    |ui| {
                        let text = Type::Raw.text(ui, self.summary.1.as_str());
                        ui.add(Label::new(text).selectable(true).extend());
                    },
                );
            });
        });
    }
}

/// The constants in two tables, one row an axis or trigger.
pub fn constants_ui(ui: &mut Ui, results: &Results) {
    let trim = &results.solution.trim;
    let axes: Vec<Vec<String>> = trim
        .axes
        .iter()
        .map(|a| {
            let place = ZonePlace::Stick(a.axis.half());
            let zone = results.solution.zones.iter().find(|z| z.place == place);
            vec![
                a.axis.words().to_owned(),
                a.low.to_string(),
                a.centre.to_string(),
                a.high.to_string(),
                zone.map_or(DASH.to_owned(), |z| number(z.radius_counts, 1)),
            ]
        })
        .collect();
    let triggers: Vec<Vec<String>> = trim
        .triggers
        .iter()
        .map(|t| {
            let cells = [t.rest, t.full, t.on, t.off].map(|v| v.to_string());
            let mut row = vec![t.half.trigger().words().to_owned()];
            row.extend(cells);
            row
        })
        .collect();
    if axes.is_empty() && triggers.is_empty() {
        let words = "No constant is solved yet; the guided run gathers what they need";
        ui.label(Type::Label.soft(ui, words));
    }
    if !axes.is_empty() {
        let headings = ["sticks, counts", "low", "centre", "high", "dead zone"];
        table::table_ui(ui, &headings, &axes, 128.0);
        ui.add_space(8.0);
    }
    if !triggers.is_empty() {
        let headings = ["triggers, counts", "released", "full", "pressed", "let go"];
        table::table_ui(ui, &headings, &triggers, 128.0);
    }
}

fn findings_ui(ui: &mut Ui, results: &Results, actions: &mut Vec<Action>) {
    let count = |s: Severity, name: &str| {
        let n = results.findings.iter().filter(|f| f.severity == s).count();
        format!("{n} {name}{}", if n == 1 { "" } else { "s" })
    };
    let title = [
        count(Severity::Fault, "fault"),
        count(Severity::Warning, "warning"),
        count(Severity::Note, "note"),
    ];
    let title = title.join(", ");
    ui.label(Type::Label.soft(ui, title));
    ui.add_space(4.0);
    let findings: Vec<&Finding> = results.findings.iter().collect();
    if findings.is_empty() {
        ui.label(Type::Label.soft(ui, "Nothing stands out, as far as the data go"));
    }
    list_ui(ui, &findings, 12.0, actions);
}
