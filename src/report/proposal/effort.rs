//! The view of effect against the effort of undoing.

use super::RowReport;
use crate::report::{Page, signed};

/// Effect against ease of undoing.
pub(super) fn pareto_text(rows: &[RowReport], page: &mut Page) {
    if rows.is_empty() {
        return;
    }
    page.heading("Effect against ease of undoing: more only for more");
    let letter = |i: usize| char::from(b'a' + u8::try_from(i).unwrap_or(25).min(25));
    let cells: Vec<Vec<String>> = rows
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let start = i == 0 && r.steps.is_empty();
            let percent = |v: f64| format!("{v:.0} %");
            vec![
                letter(i).to_string(),
                r.undo.to_string(),
                page.side(r.offline_m.mean),
                percent(r.cures_percent),
                if start {
                    String::new()
                } else {
                    percent(100.0 * r.helps_probability)
                },
                format!("{:.1}", page.in_unit(r.expected_loss_m)),
                signed(r.swing_weight_change_points, 1),
                signed(r.head_mass_change_g, 1),
            ]
        })
        .collect();
    page.table(
        &[
            "",
            "undo",
            "lands",
            "takes away",
            "helps",
            "loss",
            "points",
            "g",
        ],
        &cells,
        2,
    );
    page.line(&format!(
        "Loss: so many {} off the line a straight ball without spread costs as much.",
        page.length_unit()
    ));
    for (i, r) in rows.iter().enumerate() {
        let steps = match r.steps.is_empty() {
            true => "leave it as it is".to_string(),
            false => r.steps.join("; then "),
        };
        page.indented(&format!("{}. ", letter(i)), &steps);
    }
}
