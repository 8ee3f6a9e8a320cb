//! The sheet's style: paper and ink, one accent, axis colours, type; light, dark and printed.

use super::head::title;
use crate::emit::markup::Html;
use crate::emit::meta::SessionFacts;

/// Most characters of a name in the margin of a printed page.
const RUNNING: usize = 70;

/// The style of the document; every printed page carries board, date and its number.
///
/// Pages have the size that the reader's printer has. Dark is for the screen alone.
pub fn style(facts: &SessionFacts) -> Html {
    let mut running: String = title(facts).chars().take(RUNNING).collect();
    if title(facts).chars().count() > RUNNING {
        running.push('…');
    }
    let date = if facts.created.is_empty() { "date unknown" } else { &facts.created };
    let date: String = date.chars().take(RUNNING / 2).collect();
    let margin = |place: &'static str, words: &str| {
        let rule = Html::markup("@page{@").then(Html::markup(place));
        rule.then(Html::markup("{content:")).then(Html::css_string(words)).then(CLOSED)
    };
    Html::markup(STYLE)
        .then(Html::markup(DARK))
        .then(Html::markup(PRINT))
        .then(margin("top-left", &running))
        .then(margin("top-right", &date))
}

const CLOSED: Html = Html::markup("}}\n");

/// Colour says the axis (x, y, trigger); the right half is dashed.
const STYLE: &str = r#"
:root{--page:#F6F4EF;--card:#FFFFFF;--ink:#1B242C;--soft:#5C6873;--rule:#DAD6CC;--faint:#E9E6DE;
--accent:#8A5E00;--glow:#F4EEE2;--x:#0072B2;--y:#C04F00;--t:#00795A;--fault:#B23A1A}
*{box-sizing:border-box}
html{-webkit-print-color-adjust:exact;print-color-adjust:exact}
body{margin:0;background:var(--page);color:var(--ink);font:15px/1.45 B612,"Segoe UI","Noto Sans",
"DejaVu Sans",system-ui,sans-serif;font-variant-numeric:tabular-nums}
main{max-width:980px;margin:0 auto;padding:24px 16px 40px}
header{padding:0 4px 12px}
h1{font-size:28px;line-height:1.2;margin:0 0 4px;overflow-wrap:anywhere}
h2{font-size:17px;line-height:1.3;margin:0 0 8px}
h3{font-size:15px;line-height:1.3;margin:12px 0 4px}
p{margin:0 0 8px}
.soft,figcaption,caption{color:var(--soft)}
.small,figcaption,caption{font-size:13px;line-height:1.4}
section{background:var(--card);border:1px solid var(--rule);border-radius:8px;padding:20px;
margin:0 0 16px}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:16px;margin:0 0 16px}
.pair>section{margin:0;min-width:0}
.halves{display:grid;grid-template-columns:1fr 1fr;gap:20px}
.halves>*{min-width:0}
figure{margin:0 0 12px}
figcaption{margin-top:2px}
svg{display:block;width:100%;height:auto}
table{border-collapse:collapse;width:100%}
caption{text-align:left;padding-bottom:4px}
th{font-weight:400;color:var(--soft);text-align:left;font-size:13px;vertical-align:bottom}
td,th{padding:3px 8px 3px 0;vertical-align:baseline}
td:last-child,th:last-child{padding-right:0}
tbody tr{border-top:1px solid var(--faint)}
td.v{font-weight:700;text-align:right;white-space:nowrap}
th.v,td.n,th.n{text-align:right}
td{overflow-wrap:anywhere}td:first-child,td:first-child+td{min-width:4em}
td.l{white-space:nowrap}td.n,td.u{white-space:nowrap;color:var(--soft);font-size:13px}
td.w{color:var(--soft);font-size:13px;overflow-wrap:anywhere}
tr.part td{border-top:1px solid var(--rule);padding-top:10px;font-weight:700}
.verdict{display:flex;gap:12px;align-items:flex-start}
.verdict .state{width:34px;height:34px;flex:none}
.verdict strong{font-size:22px;line-height:1.3;display:block}
.found{display:flex;gap:10px;padding:10px 0;border-top:1px solid var(--faint)}
.found:first-of-type{border-top:0;padding-top:0}
.found .state{width:20px;height:20px;flex:none;margin-top:1px}
.found p{margin:0 0 2px;overflow-wrap:anywhere}
.found>div{min-width:0}
.state path,.state circle,.state rect{fill:none;stroke-width:2.2;stroke-linejoin:round;
stroke-linecap:round}
.state.done *{stroke:var(--t)}.state.warning *{stroke:var(--accent)}
.state.fault *{stroke:var(--fault)}.state.note *{stroke:var(--soft)}
ul{margin:0;padding-left:20px}li{margin:0 0 4px}
svg text{font-size:13px;fill:var(--soft)}
svg text.name{fill:var(--ink)}svg text.over{paint-order:stroke;stroke:var(--card);
stroke-width:4px;stroke-linejoin:round}
td svg:not(.state){display:inline-block;width:180px;vertical-align:middle}
td .state{display:inline-block;width:1.1em;height:1.1em;vertical-align:-0.15em}
svg line,svg polyline,svg polygon,svg circle,svg rect{fill:none;stroke:var(--ink);stroke-width:1}
svg .grid{stroke:var(--faint)}svg .rule{stroke:var(--rule)}
svg .limit{stroke:var(--ink);stroke-dasharray:5 4}
svg .floor{stroke:var(--soft);stroke-dasharray:1.5 3}
svg .curve{stroke:var(--ink);stroke-width:2;stroke-linejoin:round}
svg .x{stroke:var(--x);stroke-width:1.5}svg .y{stroke:var(--y);stroke-width:1.5}
svg .t{stroke:var(--t);stroke-width:1.5}
svg .right{stroke-dasharray:7 3}
svg .spread{fill:var(--faint);stroke:none}
svg .zone{fill:var(--glow);stroke:var(--accent);stroke-width:2}
svg .dead{stroke:var(--accent);stroke-width:9}
svg .tail{stroke:var(--soft)}
svg .dot{fill:var(--ink);stroke:none}svg .chosen{fill:var(--accent);stroke:none}
svg .mark{stroke:var(--accent);stroke-width:2}svg .hint{stroke:var(--accent);stroke-dasharray:2 3}
svg .bar{fill:var(--ink);stroke:none}svg .bar.accent{fill:var(--accent)}svg .bar.x{fill:var(--x)}
svg .bar.y{fill:var(--y)}svg .bar.t{fill:var(--t)}
footer{color:var(--soft);font-size:13px;padding:0 4px}
@media screen{section{overflow-x:auto}}
@media screen and (max-width:720px){.pair,.halves{grid-template-columns:1fr}}
"#;

/// Ink and paper change places; the axis colours are the lighter ones of the window.
const DARK: &str = r#"@media screen and (prefers-color-scheme:dark){:root{color-scheme:dark;
--page:#15191E;--card:#1C2228;--ink:#E6EAEE;--soft:#93A0AC;--rule:#3A444E;--faint:#2B333B;
--accent:#E0A526;--glow:#2E2A1C;--x:#4FA3E0;--y:#F0804A;--t:#3BB58F;--fault:#E8694A}}
"#;

/// Headings stay with what they head, rows and figures whole; figures of a stick fit half a page.
const PRINT: &str = r#"@page{margin:16mm 12mm 14mm;font:8pt/1.2 B612,"Segoe UI","Noto Sans",
"DejaVu Sans",system-ui,sans-serif;color:#5C6873;@top-left{vertical-align:bottom;padding-bottom:3mm}
@top-right{vertical-align:bottom;padding-bottom:3mm}
@bottom-right{content:"page " counter(page) " of " counter(pages);vertical-align:top;padding-top:3mm}}
@media print{:root{--page:#FFFFFF}body{font-size:9pt}main{max-width:none;padding:0}
header{padding:0 0 4px}h1{font-size:18pt}h2{font-size:11.5pt;margin:0 0 4px}h3{font-size:9pt}
p{margin:0 0 5px;orphans:3;widows:3}
section{border:0;border-top:1pt solid var(--rule);border-radius:0;padding:8px 0 0;margin:0 0 14px}
header+section{border-top:0}.pair{gap:0 18px;margin:0 0 14px}.halves{gap:10px 18px}
.small,figcaption,caption{font-size:7.5pt}table{font-size:8pt;margin:0 0 6px}
th,td.n,td.u,td.w{font-size:7pt}td,th{padding:2px 6px 2px 0}
.verdict strong{font-size:14pt}
tr,table,p,figure,.found,.verdict,li,td,svg{break-inside:avoid}
h1,h2,h3,caption,tr.part,thead,section>p:not(:last-child),figure:has(+.halves),.found p:first-child{break-after:avoid}
tbody tr:first-child,tbody tr:last-child{break-before:avoid}thead{display:table-header-group}}
"#;
