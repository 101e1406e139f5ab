//! The check afterwards.

use super::Failure;
use super::before::{before_named, before_of};
use super::context::{Context, Fitted, build_of, fitted, fitted_in, local, model};
use super::filed::{ever_logged_with, overlap, texts_in};
use super::followed::{followed, row_of};
use super::visit::{Basis, Seen, see_on, sessions};
use crate::adjusted::{Adjusted, Turn, adjusted, bearing};
use crate::bench::Bench;
use crate::bench::describe::SettingFile;
use crate::bench::store::{Proposal, Verdict};
use crate::hand::Hand;
use crate::physics::Physics;
use crate::priors;
use crate::proposal::{Interval, Options, Situation, what_if};
use crate::report::{Range80, VerdictReport};
use crate::verdict::verdict;
use clap::Args;
use std::collections::BTreeSet;

/// Compare the sessions before and after a change with what was predicted, and file the verdict.
///
/// Without options: the sessions of the latest day with the player's latest build against those of
/// that day with the build that was replaced, as blocks in turn leave them, and the proposal that led
/// from one to the other. Where these are fewer than 5 shots, the sessions that the proposal rests on
/// count with them, and those in the same air and wind that were logged since. A change that no
/// proposal foretold is predicted now, from the sessions before. Where not all were hit in one air and
/// wind, all are flown again in the air of the latest, without wind if that is what differs.
///
/// Before and after are compared by shots alone: what a day adds is in no interval, and the shots that
/// asked for a change make it look larger. Hit both builds on one day.
///
/// Where the club was measured in most shots (face angle, path, strike), the effect is taken at the
/// same delivery, so that fewer shots tell: a device must measure these, not compute them from the
/// ball. The interval holds for one look; with --every-block, and where a verdict on some of these
/// shots was filed before, it holds for a look after every block.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab check --player Maren")]
pub(super) struct Check {
    /// The player [default: that of the build; the only one of the bench].
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
    /// The new build [default: that of the sessions after; the player's latest].
    #[arg(long, value_name = "NAME")]
    build: Option<String>,
    /// The build before [default: the one that was replaced].
    #[arg(long, value_name = "NAME")]
    build_before: Option<String>,
    /// Sessions before, may be repeated, none of a later day than those after [default: those with the
    /// build before of the day of the sessions after; if they are fewer than 5 shots, with those that
    /// the proposal rests on and those in the same air and wind logged since; if there are none, those
    /// of the latest day].
    #[arg(long, value_name = "NAME")]
    before: Vec<String>,
    /// Sessions after, may be repeated [default: those of the latest day with the new build].
    #[arg(long, value_name = "NAME")]
    after: Vec<String>,
    /// The proposal [default: the one of which the new build is a row].
    #[arg(long, value_name = "N")]
    proposal: Option<i64>,
    /// Its row [default: the one that is the new build].
    #[arg(long, value_name = "N", requires = "proposal")]
    row: Option<usize>,
    /// Judge for somebody who looks after every block and stops when it is clear: a wider interval,
    /// wrong in at most one of five however often you look.
    #[arg(long)]
    every_block: bool,
    /// Do not file the verdict in the bench.
    #[arg(long)]
    dry_run: bool,
}

impl Check {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let physics = c.physics()?;
        let (build, player) = (self.build.as_deref(), self.player.as_deref());
        let new = fitted_in(&bench, build, player, &self.after)?;
        let before = match (&self.build_before, self.before.first()) {
            (Some(b), _) => b.clone(),
            (None, Some(session)) => build_of(&bench, session)?,
            (None, None) => new.build.replaces.clone().ok_or_else(|| {
                Failure::usage(format!(
                    "build '{}' replaces none: say --before or --build-before",
                    new.build.name
                ))
            })?,
        };
        let old = fitted(&bench, Some(&before), Some(&new.player.name))?;
        let before = old.build.name.clone();
        let after = sessions(&bench, &new.build.name, &self.after)?;
        let earlier = match self.before.is_empty() {
            true => before_of(&bench, &before, &new, &after, self.proposal)?,
            false => before_named(&bench, &before, &after, &self.before)?,
        };
        let mut days = earlier.iter().chain(&after).map(|s| s.info.date);
        let first_day = days.next();
        let one_day = days.all(|d| Some(d) == first_day);
        let hand = new.hand();
        let basis = Basis::of(&[&earlier, &after], hand, &physics);
        let seen_before = see_on(&earlier, &old, &physics, &basis)?;
        let seen_after = see_on(&after, &new, &physics, &basis)?;
        let physics = &seen_before.physics;
        let found = self.prediction(&bench, &before, &new)?;
        let predicted = match found {
            Some((_, interval)) => Some(turned(interval, hand)),
            None => computed(&bench, &old, &new, &seen_before, physics)?,
        };
        let same_swing =
            at_same_delivery(&bench, [&old, &new], [&seen_before, &seen_after], physics)?;
        let looks = Looks::of(
            &bench,
            [&before, &new.build.name],
            [&seen_before.names, &seen_after.names],
        )?;
        let result = verdict(&seen_before.tendency, &seen_after.tendency, predicted)
            .by(same_swing, self.every_block || looks.many());
        let offline = |s: &Seen| s.tendency.offline.mean;
        let mut report = VerdictReport::new(
            &result,
            &new.player.name,
            hand,
            [offline(&seen_before), offline(&seen_after)],
        );
        report.warnings = seen_before.warnings();
        report.before = seen_before.names;
        report.after = seen_after.names;
        report.one_day = one_day;
        report.proposal = found.map(|(id, _)| id);
        report.earlier_looks = looks.earlier.clone();
        if !self.dry_run {
            let body = serde_json::to_value(&report)
                .map_err(|e| Failure::input(format!("the verdict cannot be filed: {e}")))?;
            file_verdict(c, &mut bench, looks.same, report.proposal, &body)?;
        }
        c.show(&report)
    }

    /// The predicted change of offline (m, real-world frame) with the number of its proposal.
    fn prediction(
        &self,
        bench: &Bench,
        before: &str,
        new: &Fitted,
    ) -> Result<Option<(i64, Interval)>, Failure> {
        let of_row = |p: &Proposal, row: usize| interval(&p.body["rows"][row]["offline_change_m"]);
        let built = followed(bench, new, before)?;
        let Some(id) = self.proposal else {
            return Ok(built.and_then(|(p, row)| Some((p.id, of_row(&p, row)?))));
        };
        let p = bench.proposal(id)?;
        let row = match (self.row, built) {
            (Some(r), _) => r.checked_sub(1),
            (None, Some((built, row))) if built.id == id => Some(row),
            (None, _) => row_of(&p.body, &SettingFile::of(&new.club.setting, &new.club.head)),
        };
        row.and_then(|i| of_row(&p, i))
            .map(|i| Some((id, i)))
            .ok_or_else(|| {
                Failure::usage(format!("proposal {id}: no row is that build; say --row"))
            })
    }
}

/// What was judged before of the shots that are now.
struct Looks {
    /// The verdict on the same sessions.
    same: Option<Verdict>,
    /// Numbers of those filed before that, of the same change, on some of the shots before or after.
    earlier: Vec<i64>,
}

impl Looks {
    /// With the builds before and after, and the sessions.
    fn of(
        bench: &Bench,
        [old, new]: [&str; 2],
        compared: [&[String]; 2],
    ) -> Result<Looks, Failure> {
        let mut all = bench.verdicts(None)?;
        let lists = |v: &Verdict| ["before", "after"].map(|k| texts_in(&v.body[k]));
        // In whatever order they are named.
        let sorted = |names: &[String]| -> BTreeSet<String> { names.iter().cloned().collect() };
        let asked = compared.map(sorted);
        let same = all
            .iter()
            .rposition(|v| lists(v).each_ref().map(|l| sorted(l)) == asked);
        let same = same.and_then(|i| all.drain(i..).next());
        let with_both = [ever_logged_with(bench, old)?, ever_logged_with(bench, new)?];
        let is_look = |v: &&Verdict| {
            let was = lists(v);
            let of_both = |with: &[&[String]; 2]| [0, 1].map(|i| overlap(&was[i], with[i]));
            of_both(&[&with_both[0], &with_both[1]]) == [true, true]
                && of_both(&compared) != [false, false]
        };
        let earlier = all.iter().filter(is_look).map(|v| v.id).collect();
        Ok(Looks { same, earlier })
    }

    /// Whether this is one look of several.
    fn many(&self) -> bool {
        let said = |v: &Verdict| v.body["every_block"] == true;
        !self.earlier.is_empty() || self.same.as_ref().is_some_and(said)
    }
}

/// Files a verdict. The same comparison, of the same sessions, has one verdict: a later one takes
/// the place of the earlier one, and the same one again is not filed again.
fn file_verdict(
    c: &mut Context<'_, '_>,
    bench: &mut Bench,
    same: Option<Verdict>,
    proposal: Option<i64>,
    body: &serde_json::Value,
) -> Result<(), Failure> {
    match same {
        Some(v) if v.proposal == proposal && v.body == *body => {
            c.note(&format!(
                "verdict {} says so already; nothing was filed",
                v.id
            ));
        }
        Some(v) => {
            bench.replace_verdict(v.id, proposal, body, &c.now)?;
            let day = v.created_at.get(..10).unwrap_or_default();
            c.note(&format!("takes the place of verdict {}, of {day}", v.id));
        }
        None => {
            bench.add_verdict(proposal, body, &c.now)?;
        }
    }
    Ok(())
}

/// Without a proposal: what the sessions before and the model foretell of the new setting, if it is
/// the same head.
fn computed(
    bench: &Bench,
    old: &Fitted,
    new: &Fitted,
    before: &Seen,
    physics: &Physics,
) -> Result<Option<Interval>, Failure> {
    if old.build.head != new.build.head {
        return Ok(None);
    }
    let options = Options::default();
    let situation = Situation::from_session(
        &old.club,
        physics,
        before.conditions,
        &before.reading,
        &before.tendency,
        old.goal,
        local(model(bench, None)?.as_ref(), old),
        200,
        options.seed,
    )?;
    let (_, row) = what_if(&situation, &new.club.setting, &options)?;
    Ok(Some(row.offline_change))
}

/// The effect at the same delivery, where the club was measured.
fn at_same_delivery(
    bench: &Bench,
    [old, new]: [&Fitted; 2],
    [before, after]: [&Seen; 2],
    physics: &Physics,
) -> Result<Option<Adjusted>, Failure> {
    let head = &old.club.head;
    let turn = if old.build.head == new.build.head {
        let now = physics.features(head, &old.club.setting);
        let then = physics.features(head, &new.club.setting);
        let learned = local(model(bench, None)?.as_ref(), old);
        Turn::of(&std::array::from_fn(|i| then[i] - now[i]), &learned)
    } else {
        Turn::unknown()
    };
    let striker = physics.striker(head, &old.club.setting, &old.club.setting)?;
    let range = physics.range(&before.conditions);
    let bears = bearing(&striker, &before.reading.centre.delivery, physics, &range);
    Ok(adjusted(
        before.side(),
        after.side(),
        &turn,
        &bears,
        &priors::within(head.kind),
    ))
}

/// An interval of a filed proposal.
fn interval(v: &serde_json::Value) -> Option<Interval> {
    let Range80 { mean, low, high } = Range80::filed(v)?;
    Some(Interval { mean, low, high })
}

/// An interval of a right-positive length in the other frame.
fn turned(i: Interval, hand: Hand) -> Interval {
    let s = hand.sign();
    Interval {
        mean: i.mean * s,
        low: (i.low * s).min(i.high * s),
        high: (i.low * s).max(i.high * s),
    }
}
