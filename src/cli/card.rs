//! The job card.

use super::Failure;
use super::context::{Context, Fitted, build_of, fitted};
use super::filed::{Withdrawn, ever_logged_with, overlap, texts_in};
use super::followed::followed;
use super::visit::{Basis, latest_visit, see_on, sessions};
use crate::bench::Bench;
use crate::bench::describe::Angle;
use crate::bench::store::{Proposal, SessionRecord, Verdict};
use crate::flight::Wind;
use crate::hand::Hand;
use crate::proposal::{RULES_CAUTION, Step, steps};
use crate::report::{
    Card, CardBall, CardBuild, CardCheck, Page, Range80, Units, filed_words, measures, signed, tidy,
};
use crate::rules::{club_limits, vertical_inertia};
use crate::units::{DEG, G_CM2};
use clap::Args;

/// Print a one-page job card: the as-built record, the work, the ball, the proposal, the check,
/// cautions.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab card --build MV-2 --html card.html")]
pub(super) struct CardArgs {
    /// The player [default: that of the build; the only one of the bench].
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// The build [default: the player's latest].
    #[arg(long, value_name = "NAME")]
    build: Option<String>,
    /// Write a printable HTML page to this file; - is standard output.
    #[arg(long, value_name = "FILE")]
    html: Option<String>,
}

impl CardArgs {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let who = fitted(&bench, self.build.as_deref(), self.player.as_deref())?;
        let card = card(c, &bench, &who)?;
        match self.html.as_deref() {
            None => c.show(&card),
            Some("-") => Ok(c.io.out.write_all(card.html(c.units()).as_bytes())?),
            Some(path) => {
                std::fs::write(path, card.html(c.units()))
                    .map_err(|e| Failure::written(path, &e))?;
                Ok(writeln!(c.io.out, "job card written to {path}")?)
            }
        }
    }
}

fn card(c: &Context<'_, '_>, bench: &Bench, who: &Fitted) -> Result<Card, Failure> {
    let old = match &who.build.replaces {
        Some(name) => Some(fitted(bench, Some(name), None)?),
        None => None,
    };
    // The proposal that led here was made for the build before; else one made for this build.
    let built = match &old {
        Some(old) => followed(bench, who, &old.build.name)?,
        None => None,
    };
    let base = old.as_ref().map_or(&who.build.name, |o| &o.build.name);
    let all = bench.proposals(Some(&who.player.name))?;
    let latest = || all.iter().rfind(|p| p.build == *base);
    let (proposal, row) = match &built {
        Some((p, row)) => (Some(p), *row),
        None => (latest(), 0),
    };
    let withdrawn = Withdrawn::of(bench)?;
    let mut lines = Vec::new();
    let mut cautions = Vec::new();
    let mut warn = |text: &str| {
        if !cautions.iter().any(|c| c == text) {
            cautions.push(text.to_string());
        }
    };
    let work = old.as_ref().map_or_else(Vec::new, |old| work(c, old, who));
    work.iter().flat_map(|s| &s.cautions).for_each(|t| warn(t));
    if let Some(p) = proposal {
        let of_row = match (&built, &old) {
            (Some(_), _) => format!(", row {} was built{}", row + 1, foretold(c.units(), p, row)),
            (None, Some(_)) => ", no row is recorded as built".into(),
            (None, None) => String::new(),
        };
        lines.push(format!(
            "number {} of {}: {}{}{of_row}{}",
            p.id,
            &p.created_at[..10],
            p.name.replace('_', " "),
            match p.body["calm"] == true {
                true => ", for calm air",
                false => "",
            },
            mark(withdrawn.any(&[&p.body["sessions"]]))
        ));
        // What is still to do; what was done is the work.
        let of_row = |key: &str| match old {
            None => texts_in(&p.body["rows"][row][key]),
            Some(_) => Vec::new(),
        };
        lines.extend(of_row("steps"));
        if old.is_none() {
            texts_in(&p.body["warnings"]).iter().for_each(|t| warn(t));
        }
        of_row("cautions").iter().for_each(|t| warn(t));
    }
    club_limits(&who.club).iter().for_each(|t| warn(t));
    cautions.retain(|t| t != RULES_CAUTION);
    cautions.push(RULES_CAUTION.to_string());
    // The check of this build: one whose shots after were hit with it.
    let own = ever_logged_with(bench, &who.build.name)?;
    let of_build = |v: &&Verdict| overlap(&texts_in(&v.body["after"]), &own);
    let verdicts = bench.verdicts(None)?;
    let verdict = verdicts.iter().rev().find(of_build);
    let check = verdict.map(|v| check_of(v, &withdrawn));
    let compared = verdict.map(|v| [&v.body["before"], &v.body["after"]]);
    let ball = match compared {
        Some(lists) if !withdrawn.any(&lists) => {
            let lists = lists.map(texts_in);
            balls(c, bench, lists.iter().map(Vec::as_slice))?
        }
        _ => {
            let mut latest = Vec::new();
            for f in old.iter().chain([who]) {
                latest.push(latest_visit(bench, &f.build.name)?);
            }
            balls(c, bench, latest.iter().map(Vec::as_slice))?
        }
    };
    Ok(Card {
        player: who.player.name.clone(),
        hand: who.hand(),
        printed_at: c.now.clone(),
        attitude: c.global.attitude.into(),
        build: card_build(c, who),
        before: old.as_ref().map(|o| card_build(c, o)),
        work: work.iter().map(|s| s.instruction.clone()).collect(),
        measure_again: measures(&work),
        tendency: ball.iter().map(|b| ball_line(c.units(), b)).collect(),
        ball,
        proposal: lines,
        proposal_number: proposal.map(|p| p.id),
        proposal_row: built.as_ref().map(|(_, row)| row + 1),
        verdict: check.iter().map(|k| check_line(c.units(), k)).collect(),
        check,
        cautions,
    })
}

/// What a row of a proposal foretold, for behind its number.
fn foretold(units: Units, p: &Proposal, row: usize) -> String {
    Range80::filed(&p.body["rows"][row]["offline_change_m"]).map_or(String::new(), |change| {
        let change = change.sideways(&Page::new(units));
        format!(", to move the ball {change}")
    })
}

/// What was done to a club, as far as levers of the same head tell.
fn work(c: &Context<'_, '_>, old: &Fitted, new: &Fitted) -> Vec<Step> {
    let (from, to) = (&old.club.setting, &new.club.setting);
    match old.build.head == new.build.head {
        true => steps(&new.club.head, from, to, c.global.attitude.into()),
        false => Vec::new(),
    }
}

/// What to add to a line that rests on a withdrawn session.
fn mark(rests_on_withdrawn: bool) -> &'static str {
    match rests_on_withdrawn {
        true => " (rests on a withdrawn session)",
        false => "",
    }
}

/// The ball in each of some groups of sessions, the sessions of a group all with one build.
fn balls<'a>(
    c: &Context<'_, '_>,
    bench: &Bench,
    groups: impl Iterator<Item = &'a [String]>,
) -> Result<Vec<CardBall>, Failure> {
    let physics = c.physics()?;
    let mut read = Vec::new();
    for names in groups.filter(|names| !names.is_empty()) {
        let build = build_of(bench, &names[0])?;
        let f = fitted(bench, Some(&build), None)?;
        read.push((names, sessions(bench, &build, names)?, f));
    }
    // All balls of a card in one air, as they are held against each other.
    let all: Vec<&[SessionRecord]> = read.iter().map(|(_, records, _)| &records[..]).collect();
    let hand = read.first().map_or(Hand::Right, |(_, _, f)| f.hand());
    let basis = Basis::of(&all, hand, &physics);
    let mut out = Vec::new();
    for (names, records, f) in &read {
        let mut days: Vec<String> = records.iter().map(|r| r.info.date.to_string()).collect();
        days.dedup();
        let seen = see_on(records, f, &physics, &basis)?;
        let (t, s) = (&seen.tendency, f.hand().sign());
        out.push(CardBall {
            build: f.build.name.clone(),
            session: names.join(", "),
            date: days.join(", "),
            shots: t.shots,
            in_wind: seen.conditions.wind != Wind::default(),
            flown_again: seen.flown_again,
            start_m: tidy(t.start.mean * s),
            curve_m: tidy(t.curve.mean * s),
            offline_m: tidy(t.offline.mean * s),
            carry_m: tidy(t.carry.mean),
            apex_m: tidy(t.apex.mean),
        });
    }
    Ok(out)
}

fn ball_line(units: Units, b: &CardBall) -> String {
    let page = Page::new(units);
    format!(
        "{}, {} shots in {} ({}{}): starts {}, curves {}, lands {}; carries {}, height {}",
        b.build,
        b.shots,
        b.session,
        b.date,
        match (b.flown_again, b.in_wind) {
            (true, true) => ", flown again in one air",
            (true, false) => ", flown again in one air without wind",
            (false, true) => ", in wind",
            (false, false) => "",
        },
        page.sideways(b.start_m),
        page.sideways(b.curve_m),
        page.sideways(b.offline_m),
        page.length(b.carry_m),
        page.length(b.apex_m),
    )
}

fn check_of(v: &Verdict, withdrawn: &Withdrawn) -> CardCheck {
    let number = |v: &serde_json::Value| v.as_f64().unwrap_or(f64::NAN);
    let adjusted = &v.body["adjusted_offline_change"];
    let change = if adjusted.is_object() {
        adjusted
    } else {
        &v.body["offline_change"]
    };
    let half_width_80_m = number(&change["half_width_80_m"]);
    CardCheck {
        verdict: v.id,
        outcome: v.body["outcome"].as_str().unwrap_or_default().into(),
        verdict_says: filed_words(&v.body),
        offline_change_m: number(&change["mean_m"]),
        half_width_80_m,
        judged_half_width_m: v.body["judged_half_width_m"]
            .as_f64()
            .unwrap_or(half_width_80_m),
        every_block: v.body["every_block"] == true,
        predicted_offline_change_m: Range80::filed(&v.body["predicted_offline_change_m"]),
        at_same_delivery: adjusted.is_object(),
        offline_before_m: number(&v.body["offline_before_m"]),
        offline_after_m: number(&v.body["offline_after_m"]),
        rests_on_withdrawn_session: withdrawn.any(&[&v.body["before"], &v.body["after"]]),
    }
}

fn check_line(units: Units, k: &CardCheck) -> String {
    let page = Page::new(units);
    format!(
        "{}: moved {}, give or take {}{}{}; {} before, {} after{}{}",
        k.verdict_says,
        page.sideways(k.offline_change_m),
        page.length(k.judged_half_width_m),
        if k.every_block {
            " however often you look"
        } else {
            ""
        },
        if k.at_same_delivery {
            ", at the same delivery"
        } else {
            ""
        },
        page.sideways(k.offline_before_m),
        page.sideways(k.offline_after_m),
        k.predicted_offline_change_m
            .map_or(String::new(), |p| format!(
                "; predicted {}",
                p.sideways(&page)
            )),
        mark(k.rests_on_withdrawn_session),
    )
}

fn card_build(c: &Context<'_, '_>, f: &Fitted) -> CardBuild {
    let (club, b) = (&f.club, &f.build);
    let body = club.head.mass_properties(&club.setting);
    let parts: f64 = club.parts.iter().map(|p| p.mass).sum();
    let angles = b.angles(club, f.hand(), c.global.attitude.into());
    CardBuild {
        build: b.name.clone(),
        replaces: b.replaces.clone(),
        built_on: b.built_on.clone(),
        head: b.head.clone(),
        kind: club.head.kind.to_string(),
        loft_deg: deg(angles.loft.value),
        loft_from: from(&angles.loft),
        loft_reading_deg: angles.loft.reading.map(deg),
        lie_deg: deg(angles.lie.value),
        lie_from: from(&angles.lie),
        lie_reading_deg: angles.lie.reading.map(deg),
        face_angle_deg: angles.face.map(|f| deg(f.value)),
        face_angle_from: angles.face.as_ref().map(from),
        face_angle_reading_deg: angles.face.and_then(|f| f.reading).map(deg),
        gauge: b.gauge.as_ref().map(|g| {
            format!(
                "{}, checked {}, loft {} deg, lie {} deg",
                g.name,
                g.checked_on,
                signed(g.loft_offset_deg, 1),
                signed(g.lie_offset_deg, 1)
            )
        }),
        length_m: tidy(club.length),
        swing_weight_read: b.swing_weight_read.clone(),
        swing_weight_computed: club.swing_weight(&club.setting).to_string(),
        head_mass_g: tidy(body.mass * 1e3),
        club_mass_g: tidy((body.mass + parts) * 1e3),
        cg_toe_mm: tidy(body.cg.x * 1e3),
        cg_back_mm: tidy(-body.cg.y * 1e3),
        cg_up_mm: tidy(body.cg.z * 1e3),
        vertical_inertia_g_cm2: tidy(vertical_inertia(&club.head, &club.setting) / G_CM2),
        setting: club.setting.describe(&club.head),
        parts: b
            .part
            .iter()
            .map(|p| format!("{} {:.1} g", p.name, p.mass_g))
            .collect(),
        note: b.note.clone(),
    }
}

fn deg(angle: f64) -> f64 {
    tidy(angle / DEG)
}

fn from(angle: &Angle) -> &'static str {
    match angle.reading {
        Some(_) => "read",
        None => "computed",
    }
}
