//! The job card for a printer.

use super::Card;
use crate::report::Units;

impl Card {
    /// The card as an HTML page for a printer: one A4 side unless names, notes and work are
    /// many; no script, nothing from elsewhere.
    pub fn html(&self, units: Units) -> String {
        let mut rows = String::new();
        for [name, now, before] in self.rows(units) {
            let before = match self.before {
                Some(_) => format!("<td>{}</td>", unbroken(&before)),
                None => String::new(),
            };
            rows += &format!(
                "<tr><th>{}</th><td>{}</td>{before}</tr>\n",
                escape(&name),
                unbroken(&now)
            );
        }
        let list = |lines: &[String]| {
            let items: String = lines
                .iter()
                .map(|l| format!("<li>{}</li>\n", unbroken(l)))
                .collect();
            format!("<ul>\n{items}</ul>\n")
        };
        let mut body = String::new();
        for (title, lines) in self.sections() {
            if !lines.is_empty() {
                body += &format!("<h2>{title}</h2>\n{}", list(&lines));
            }
        }
        if !self.cautions.is_empty() {
            let list = list(&self.cautions);
            body += &format!("<div class=\"mind\"><h2>Mind</h2>\n{list}</div>\n");
        }
        let computed = self
            .computed()
            .map_or(String::new(), |how| format!("<p>{}</p>\n", escape(&how)));
        let parts = if self.build.parts.is_empty() {
            String::new()
        } else {
            format!("<p>Parts: {}.</p>\n", escape(&self.build.parts.join("; ")))
        };
        let note = self
            .build
            .note
            .as_ref()
            .map_or(String::new(), |n| format!("<p>Note: {}</p>\n", escape(n)));
        format!(
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <title>Job card {build}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
             <h1>{player}<span>{head}</span></h1>\n\
             <p class=\"what\">Job card: {what}</p>\n\
             <table>\n<tr><th></th><th>as built</th>{before}</tr>\n{rows}</table>\n\
             {computed}{parts}{note}{body}<p class=\"sign\">Built by ____________________ \
             Measured by ____________________ Date ____________<br><span>printed {printed}</span></p>\n</body>\n</html>\n",
            build = escape(&self.build.build),
            player = escape(&self.player),
            head = escape(&self.build.head),
            what = escape(&self.what()),
            before = match self.before {
                Some(_) => "<th>before</th>",
                None => "",
            },
            printed = escape(&self.printed_at),
        )
    }
}

const STYLE: &str = "@page{size:A4;margin:12mm 15mm}body{font:10pt/1.28 Georgia,serif;color:#222;\
max-width:180mm;margin:8mm auto;overflow-wrap:anywhere}@media print{body{margin:0 auto}}\
h1{font-size:18pt;margin:0;border-bottom:2px solid #446;padding-bottom:1.5mm;display:flex;\
flex-wrap:wrap;justify-content:space-between;align-items:baseline;column-gap:6mm}\
h1 span{font-weight:normal;font-size:13pt}\
h2{font-size:11pt;margin:3.5mm 0 .5mm;color:#446;break-after:avoid}p{margin:1.5mm 0}\
.what{font-size:11pt}table{border-collapse:collapse;margin:2mm 0;width:100%}\
th{text-align:left;font-weight:normal;color:#555;width:26%}td{width:37%}\
tr+tr{border-top:1px solid #ddd}td,th{padding:.5mm 2mm .5mm 0;vertical-align:top}\
ul{margin:0;padding-left:5mm}.whole{white-space:nowrap}\
.mind{border:1.5pt solid #a30;padding:0 3mm 2mm;margin-top:4mm;break-inside:avoid}\
.mind h2{color:#a30;margin-top:1.5mm}.sign{margin-top:8mm;color:#555;break-inside:avoid}\
.sign span{float:right;font-size:8.5pt}";

/// Escapes text for HTML.
fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// The same where dates and signed numbers stay on one line.
fn unbroken(text: &str) -> String {
    let number = |w: &str| w.contains('-') && !w.contains(char::is_alphabetic);
    let word = |w: &str| match number(w) {
        true => format!("<span class=\"whole\">{}</span>", escape(w)),
        false => escape(w),
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}
