//! The sheet: one HTML file that a person reads, prints and keeps. No script, nothing from outside.
//!
//! Order: what it is, the verdict, what stands out, sticks, triggers and travel, noise, steadiness,
//! coupling, contacts, stream, columns, constants with the readings they came from, what they do to every
//! code and what they cost, limits, cautions. Same input, same bytes.
mod columns;
mod constants;
mod contacts;
mod cost;
mod coupling;
mod figures;
mod found;
mod head;
mod limits;
mod mapping;
mod noise;
mod stability;
mod stick_figures;
mod sticks;
mod stream;
mod style;
mod table;
mod travel;
mod zone;

use super::markup::{Html, tag};
use super::meta::Report;

/// The whole document, well-formed as XML too. Every text from a rig or session is escaped.
pub fn sheet(report: &Report<'_>) -> String {
    let mut head = Html::markup(
        "\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n",
    );
    head.push(tag("title").line(head::title(report.facts)));
    head.push(tag("style").line(style::style(report.facts)));
    let mut out = Html::markup("\n");
    for part in PARTS {
        part(report, &mut out);
    }
    let body = tag("body").line(Html::markup("\n").then(tag("main").line(out)));
    let page = Html::markup("\n").then(tag("head").line(head)).then(body);
    let page = tag("html").attr("lang", "en").line(page);
    Html::markup("<!DOCTYPE html>\n").then(page).into_string()
}

/// Every part in the order of the sheet.
const PARTS: [fn(&Report<'_>, &mut Html); 15] = [
    head::write,
    found::write,
    sticks::write,
    travel::write,
    noise::write,
    stability::write,
    coupling::write,
    contacts::write,
    stream::write,
    columns::write,
    zone::write,
    constants::write,
    mapping::write,
    cost::write,
    limits::write,
];

/// A card with its title.
fn card(out: &mut Html, title: &str, body: Html) {
    out.push(tag("section").line(titled(title, body)));
}

/// A card that may run over the end of a printed page.
fn long_card(out: &mut Html, title: &str, body: Html) {
    out.push(tag("section").class("long").line(titled(title, body)));
}

fn titled(title: &str, body: Html) -> Html {
    Html::markup("\n").then(tag("h2").line(title)).then(body)
}

/// A figure with its caption.
fn figure(picture: Html, caption: &str) -> Html {
    let caption = tag("figcaption").line(caption);
    tag("figure").line(Html::markup("\n").then(picture).then(caption))
}

/// Parts side by side where there is room.
fn halves(parts: impl IntoIterator<Item = Html>) -> Html {
    let parts: Html = parts.into_iter().collect();
    tag("div").class("halves").line(Html::markup("\n").then(parts))
}

#[cfg(test)]
mod hostile;
#[cfg(test)]
mod tests;
