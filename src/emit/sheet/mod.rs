//! The sheet: one HTML file that a person reads, prints and keeps. No script, nothing from outside.
//!
//! Order: what it is, the verdict, what stands out, sticks, triggers and travel, noise, steadiness,
//! coupling, contacts, stream, constants with the readings they came from, what they do to every
//! code and what they cost, limits, cautions. Same input, same bytes.
mod constants;
mod contacts;
mod cost;
mod coupling;
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

use super::escape::html;
use super::meta::Report;

/// The whole document, well-formed as XML too. Every text from a rig or session is escaped.
pub fn sheet(report: &Report<'_>) -> String {
    let title = html(&head::title(report.facts));
    let mut out = String::with_capacity(1 << 17);
    out.push_str("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n");
    out.push_str(&format!("<title>{title}</title>\n<style>{}</style>\n", style::STYLE));
    out.push_str("</head>\n<body>\n<main>\n");
    head::write(report, &mut out);
    found::write(report, &mut out);
    sticks::write(report, &mut out);
    travel::write(report, &mut out);
    noise::write(report, &mut out);
    stability::write(report, &mut out);
    coupling::write(report, &mut out);
    contacts::write(report, &mut out);
    stream::write(report, &mut out);
    zone::write(report, &mut out);
    constants::write(report, &mut out);
    mapping::write(report, &mut out);
    cost::write(report, &mut out);
    limits::write(report, &mut out);
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// A card with its title.
fn card(out: &mut String, title: &str, body: &str) {
    out.push_str(&format!("<section>\n<h2>{}</h2>\n{body}</section>\n", html(title)));
}

/// A card that may run over the end of a printed page.
fn long_card(out: &mut String, title: &str, body: &str) {
    let title = html(title);
    out.push_str(&format!("<section class=\"long\">\n<h2>{title}</h2>\n{body}</section>\n"));
}

/// A figure with its caption.
fn figure(svg: String, caption: &str) -> String {
    format!("<figure>\n{svg}<figcaption>{}</figcaption>\n</figure>\n", html(caption))
}

#[cfg(test)]
mod tests;
