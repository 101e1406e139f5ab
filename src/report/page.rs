//! A page of text, 80 columns wide.

use crate::units::{MPH, YARD};
use anstyle::{AnsiColor, Style};
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

/// Units of lengths and speeds in text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Yards and mph.
    #[default]
    Imperial,
    /// Metres and m/s.
    Metric,
}

/// Columns of a page.
pub const WIDTH: usize = 80;

/// A page under construction: plain lines, headings, tables.
#[derive(Debug, Clone, Default)]
pub struct Page {
    text: String,
    /// Units of lengths and speeds.
    pub units: Units,
}

impl Page {
    /// An empty page.
    pub fn new(units: Units) -> Page {
        Page {
            text: String::new(),
            units,
        }
    }

    /// The text, with terminal styles; whoever prints it strips them where they don't belong.
    pub fn into_text(self) -> String {
        self.text
    }

    /// A heading, with an empty line before it unless it is the first.
    pub fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        let bold = Style::new().bold();
        for line in textwrap::wrap(text, WIDTH) {
            self.text += &format!("{bold}{line}{bold:#}\n");
        }
    }

    /// A paragraph, wrapped.
    pub fn line(&mut self, text: &str) {
        self.indented("", text);
    }

    /// A paragraph behind a mark such as `- `, wrapped and aligned.
    pub fn indented(&mut self, mark: &str, text: &str) {
        let hang = " ".repeat(textwrap::core::display_width(mark));
        let options = textwrap::Options::new(WIDTH)
            .initial_indent(mark)
            .subsequent_indent(&hang);
        for line in textwrap::wrap(text, options) {
            self.text += line.trim_end();
            self.text.push('\n');
        }
    }

    /// A sentence that answers the question, set off in colour.
    pub fn answer(&mut self, text: &str) {
        let style = Style::new().bold().fg_color(Some(AnsiColor::Cyan.into()));
        for line in textwrap::wrap(text, WIDTH) {
            self.text += &format!("{style}{line}{style:#}\n");
        }
    }

    /// A caution.
    pub fn caution(&mut self, text: &str) {
        let style = Style::new().fg_color(Some(AnsiColor::Yellow.into()));
        let options = textwrap::Options::new(WIDTH)
            .initial_indent("! ")
            .subsequent_indent("  ");
        for line in textwrap::wrap(text, options) {
            self.text += &format!("{style}{line}{style:#}\n");
        }
    }

    /// A table; the first `left` columns are flush left, the others flush right.
    pub fn table(&mut self, header: &[&str], rows: &[Vec<String>], left: usize) {
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(WIDTH as u16);
        table.set_header(header.to_vec());
        for row in rows {
            table.add_row(row.clone());
        }
        for (i, column) in table.column_iter_mut().enumerate() {
            column.set_padding((0, 2));
            column.set_cell_alignment(if i < left {
                CellAlignment::Left
            } else {
                CellAlignment::Right
            });
        }
        for line in table.to_string().lines() {
            self.text += line.trim_end();
            self.text.push('\n');
        }
    }

    /// A length in m, in the page's unit, with its name.
    pub fn length(&self, m: f64) -> String {
        format!("{:.1} {}", self.in_unit(m), self.length_unit())
    }

    /// A length in m as a bare number in the page's unit.
    pub fn in_unit(&self, m: f64) -> f64 {
        let v = match self.units {
            Units::Imperial => m / YARD,
            Units::Metric => m,
        };
        // No negative zero at one decimal.
        if v.abs() < 0.05 { 0.0 } else { v }
    }

    /// Name of the page's unit of length.
    pub fn length_unit(&self) -> &'static str {
        match self.units {
            Units::Imperial => "yd",
            Units::Metric => "m",
        }
    }

    /// A speed in m/s, in the page's unit, with its name.
    pub fn speed(&self, m_s: f64) -> String {
        match self.units {
            Units::Imperial => format!("{:.1} mph", m_s / MPH),
            Units::Metric => format!("{m_s:.1} m/s"),
        }
    }

    /// A sideways length in m, with its side in words: `12.3 yd right`.
    pub fn sideways(&self, m: f64) -> String {
        let v = self.in_unit(m);
        let side = match v {
            v if v > 0.0 => " right",
            v if v < 0.0 => " left",
            _ => "",
        };
        format!("{:.1} {}{side}", v.abs(), self.length_unit())
    }

    /// A sideways length in m as a short cell: `12.3 R`.
    pub fn side(&self, m: f64) -> String {
        let v = self.in_unit(m);
        match v {
            v if v >= 0.05 => format!("{v:.1} R"),
            v if v <= -0.05 => format!("{:.1} L", -v),
            _ => "0.0  ".into(),
        }
    }
}
