//! What no single bound of a head file can tell.

use super::head::{HeadFile, SleeveFile};
use super::setting::clock_among;
use super::source::{Path, Problem, at, name_problem};
use crate::head::ClubKind;
use crate::units::DEG;
use nalgebra::Vector3;

/// Everything that is wrong beyond the bounds of single numbers.
pub(super) fn problems(file: &HeadFile) -> Vec<Problem> {
    let mut wrong: Vec<Problem> = name_problem(at!["name"], &file.name).into_iter().collect();
    let names = |v: &mut Vec<Problem>, key: &str, names: Vec<&str>| {
        for (n, name) in names.iter().enumerate() {
            v.extend(name_problem(at![key, n, "name"], name));
            if names[..n].contains(name) {
                v.push(Problem::new(at![key, n, "name"], name, "is there twice"));
            }
        }
    };
    names(
        &mut wrong,
        "track",
        file.track.iter().map(|t| t.name.as_str()).collect(),
    );
    names(
        &mut wrong,
        "screw",
        file.screw.iter().map(|s| s.name.as_str()).collect(),
    );
    names(
        &mut wrong,
        "zone",
        file.zone.iter().map(|z| z.name.as_str()).collect(),
    );
    for (n, t) in file.track.iter().enumerate() {
        let length: f64 = length(&t.path_mm);
        if t.path_mm.len() < 2 || t.path_mm.len() > MOST || length < 1e-6 {
            let allowed = format!("2 to {MOST} points that are not all the same");
            wrong.push(Problem::new(at!["track", n, "path_mm"], "", allowed));
        }
        wrong.extend(mass_list(at!["track", n, "masses_g"], &t.masses_g));
        if t.masses_g.first() == Some(&0.0) {
            let allowed = "a weight in a track weighs more than 0 g";
            wrong.push(Problem::new(at!["track", n, "masses_g", 0], 0, allowed));
        }
        if t.stops == 1 {
            let allowed = "0 for a free slide, or at least 2 stops";
            wrong.push(Problem::new(at!["track", n, "stops"], 1, allowed));
        }
    }
    for (n, s) in file.screw.iter().enumerate() {
        wrong.extend(mass_list(at!["screw", n, "masses_g"], &s.masses_g));
    }
    wrong.extend(file.sleeve.as_ref().and_then(sleeve_problem));
    wrong
}

/// How far the centre of gravity may lie before the face centre, mm: a reading error on a blade.
const MOST_BEFORE_MM: f64 = 2.0;

/// Static loft by kind of head, deg: from and to what is usual, and from and to what is taken
/// (common practice, no source).
fn lofts(kind: ClubKind) -> [f64; 4] {
    match kind {
        ClubKind::Driver => [8.0, 13.0, 4.0, 20.0],
        ClubKind::Fairway => [13.0, 25.0, 10.0, 35.0],
        ClubKind::Hybrid => [16.0, 30.0, 12.0, 40.0],
        ClubKind::Iron => [17.0, 48.0, 10.0, 60.0],
        ClubKind::Wedge => [44.0, 64.0, 38.0, 75.0],
    }
}

fn loft_problem(file: &HeadFile) -> Option<Problem> {
    let [usual_from, usual_to, from, to] = lofts(file.kind);
    let allowed = format!(
        "{from} to {to} deg with kind = \"{}\", usual {usual_from} to {usual_to}",
        file.kind
    );
    let wrong = !(from..=to).contains(&file.loft_deg);
    wrong.then(|| Problem::new(at!["loft_deg"], file.loft_deg, allowed))
}

/// What no head can be, although each number alone might.
pub(super) fn impossible(file: &HeadFile) -> impl Iterator<Item = Problem> {
    loft_problem(file).into_iter().chain(cg_problem(file))
}

fn cg_problem(file: &HeadFile) -> Option<Problem> {
    let out = file.measured.cg_mm[1];
    let allowed = format!(
        "at most {MOST_BEFORE_MM} mm: no head has its centre of gravity in front of its face. The \
         second number counts out of the face, so that a CG 38 mm behind the face is -38"
    );
    (out > MOST_BEFORE_MM).then(|| Problem::new(at!["measured", "cg_mm", 1], out, allowed))
}

/// Longest list that a head file may hold: far above any head, far below what would take long.
const MOST: usize = 100;

fn mass_list(path: Path, masses: &[f64]) -> Option<Problem> {
    let rising = masses.windows(2).all(|w| w[0] < w[1]);
    let good = rising && !masses.is_empty() && masses.len() <= MOST;
    let allowed = format!("1 to {MOST} masses, each larger than the one before");
    (!good).then(|| Problem::new(path, format!("{masses:?}"), allowed))
}

fn sleeve_problem(s: &SleeveFile) -> Option<Problem> {
    let positions: Vec<f64> = s.positions_deg.iter().map(|p| p * DEG).collect();
    let distinct = |n: usize| clock_among(&positions[..n], s.positions_deg[n]).is_err();
    if positions.is_empty() || positions.len() > MOST || !(0..positions.len()).all(distinct) {
        let allowed = format!("1 to {MOST} clock angles, no two the same");
        return Some(Problem::new(at!["sleeve", "positions_deg"], "", allowed));
    }
    let allowed = clock_among(&positions, s.reference_deg).err()?;
    let path = at!["sleeve", "reference_deg"];
    Some(Problem::new(path, s.reference_deg, allowed))
}

fn length(path_mm: &[[f64; 3]]) -> f64 {
    let leg = |w: &[[f64; 3]]| (Vector3::from(w[1]) - Vector3::from(w[0])).norm();
    path_mm.windows(2).map(leg).sum()
}
