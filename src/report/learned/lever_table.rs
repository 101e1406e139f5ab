//! What one lever does to the ball, over players and heads: a table with a picture of each row.

use super::LeverWorth;
use super::names::unit_of;
use crate::report::{Page, WIDTH};

/// One lever over players and heads, its average, and a picture of each row where there is room; a
/// lever that was only moved together with others is marked.
pub(super) fn lever_table(feature: &str, together: bool, rows: &[&LeverWorth], page: &mut Page) {
    page.heading(&format!(
        "{} moves the ball ({}){}",
        unit_of(feature),
        page.length_unit(),
        if together { " *" } else { "" }
    ));
    let cell = |m: f64| page.side(m);
    let mut cells: Vec<Vec<String>> = rows
        .iter()
        .map(|l| {
            let w = &l.learned_offline_m;
            vec![
                l.player.clone(),
                l.head.clone(),
                cell(l.physics_offline_m),
                cell(w.mean),
                format!("{} to {}", cell(w.low).trim(), cell(w.high).trim()),
            ]
        })
        .collect();
    if rows.len() > 1 {
        // Left-handed players go the other way: of both, as for a right-handed one.
        let both_hands = rows.iter().any(|l| l.hand != rows[0].hand);
        let sign = |l: &LeverWorth| if both_hands { l.hand.sign() } else { 1.0 };
        let mean = |of: &dyn Fn(&LeverWorth) -> f64| {
            let all = rows.iter().map(|l| of(l) * sign(l));
            all.sum::<f64>() / rows.len() as f64
        };
        cells.push(vec![
            format!("average of {}", rows.len()),
            if both_hands { "(right)" } else { "" }.into(),
            cell(mean(&|l| l.physics_offline_m)),
            cell(mean(&|l| l.learned_offline_m.mean)),
            String::new(),
        ]);
    }
    let wide = |c: usize| cells.iter().map(|r| r[c].chars().count()).max();
    let taken: usize = (0..5).filter_map(wide).map(|w| w.max(7) + 2).sum::<usize>() + 2;
    let mut header = vec!["player", "head", "physics", "learned", "80 %"];
    if let Some(room) = WIDTH.checked_sub(taken).filter(|&r| r >= LEAST_STRIP) {
        header.push("");
        let strips = strips(rows, room).into_iter().chain([String::new()]);
        for (row, strip) in cells.iter_mut().zip(strips) {
            row.push(strip);
        }
    }
    page.table(&header, &cells, 2);
}

/// A picture narrower than this shows nothing.
const LEAST_STRIP: usize = 9;

/// Each row as a strip of characters on one scale: `-` the interval, `o` learned, `x` physics, `|` no
/// effect.
fn strips(rows: &[&LeverWorth], columns: usize) -> Vec<String> {
    let ends = rows.iter().flat_map(|l| {
        let w = &l.learned_offline_m;
        [w.low, w.high, l.physics_offline_m, 0.0]
    });
    let (low, high) = ends.fold((0.0f64, 0.0f64), |(a, b), v| (a.min(v), b.max(v)));
    let scale = (columns - 1) as f64 / (high - low).max(f64::MIN_POSITIVE);
    let at = |v: f64| (((v - low) * scale).round() as usize).min(columns - 1);
    let strip = |l: &&LeverWorth| {
        let w = &l.learned_offline_m;
        let mut out = vec![' '; columns];
        out[at(w.low)..=at(w.high)].fill('-');
        out[at(0.0)] = '|';
        out[at(l.physics_offline_m)] = 'x';
        out[at(w.mean)] = 'o';
        out.into_iter().collect()
    };
    rows.iter().map(strip).collect()
}
