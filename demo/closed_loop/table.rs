//! The figures of a trial, each with its standard error, in 80 columns.

use crate::trial::{Case, Outcome, POLICIES, Policy, SHOTS, Stated};
use std::fmt::Write as _;
use trimtab::proposal::Answer;
use trimtab::units::YARD;

/// A change that adds more than this to the mean offline has made the player worse, m.
const WORSE: f64 = YARD;

/// An estimate with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Estimate.
    pub mean: f64,
    /// Standard error.
    pub se: f64,
}

impl Estimate {
    /// Of a mean.
    pub fn mean(v: &[f64]) -> Estimate {
        let n = v.len() as f64;
        let mean = v.iter().sum::<f64>() / n;
        let var = v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
        Estimate {
            mean,
            se: (var / n).sqrt(),
        }
    }

    /// Of a ratio of means over the same players, by linearisation (W. G. Cochran 1977, *Sampling
    /// Techniques*, 3rd ed., ch. 6).
    pub fn ratio(a: &[f64], b: &[f64]) -> Estimate {
        let (top, bottom) = (Estimate::mean(a).mean, Estimate::mean(b).mean);
        let ratio = top / bottom;
        let residual: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - ratio * b).collect();
        Estimate {
            mean: ratio,
            se: Estimate::mean(&residual).se / bottom.abs(),
        }
    }

    /// Of a share, with a standard error that is not zero for none of many (one is added to either
    /// side: A. Agresti, B. A. Coull 1998, Am. Stat. 52, 119-126).
    pub fn share(hits: usize, n: usize) -> Estimate {
        let p = (hits as f64 + 1.0) / (n as f64 + 2.0);
        Estimate {
            mean: hits as f64 / n as f64,
            se: (p * (1.0 - p) / (n as f64 + 2.0)).sqrt(),
        }
    }

    fn show(&self, scale: f64, decimals: usize) -> String {
        let (m, s) = (self.mean * scale, self.se * scale);
        format!("{m:.decimals$} ±{s:.decimals$}")
    }
}

/// What a policy makes of all players with a number of shots. Lengths in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Expected loss.
    pub loss: Estimate,
    /// Mean |expected offline| that is left.
    pub left: Estimate,
    /// Share of players whose |expected offline| grew by more than a yard.
    pub worse: Estimate,
    /// Shots spent.
    pub spent: Estimate,
    /// What is left of the curable miss, as a ratio to what the rule of thumb leaves.
    pub to_rule: Estimate,
}

fn of(cases: &[Case], n: usize, p: Policy) -> impl Iterator<Item = &Outcome> {
    let i = POLICIES.iter().position(|q| *q == p).expect("listed");
    cases.iter().map(move |c| &c.outcomes[n][i])
}

/// Summary of a policy with the `n`th number of [`SHOTS`].
pub fn summary(cases: &[Case], n: usize, p: Policy) -> Summary {
    let of = |p| of(cases, n, p);
    let left = |p: Policy| of(p).map(|o| o.after.offline().abs()).collect::<Vec<f64>>();
    let best = left(Policy::AllKnowing);
    let curable =
        |p: Policy| -> Vec<f64> { left(p).iter().zip(&best).map(|(l, b)| l - b).collect() };
    let mine = left(p);
    let worse = mine
        .iter()
        .zip(cases)
        .filter(|(l, c)| *l - c.before.offline().abs() > WORSE)
        .count();
    let list = |f: fn(&Outcome) -> f64| of(p).map(f).collect::<Vec<f64>>();
    Summary {
        loss: Estimate::mean(&list(|o| o.loss)),
        left: Estimate::mean(&mine),
        worse: Estimate::share(worse, cases.len()),
        spent: Estimate::mean(&list(|o| o.spent as f64)),
        to_rule: Estimate::ratio(&curable(p), &curable(Policy::RuleOfThumb)),
    }
}

fn name(p: Policy) -> &'static str {
    match p {
        Policy::Nothing => "no change",
        Policy::RuleOfThumb => "rule of thumb",
        Policy::Unlearned => "trimtab, physics",
        Policy::Learned => "trimtab, a season",
        Policy::AllDays => "trimtab, all days",
        Policy::SeenOnly => "levers known",
        Policy::LeastLoss => "least loss",
        Policy::AllKnowing => "all-knowing",
    }
}

/// The table of all policies and numbers of shots.
pub fn policies(cases: &[Case]) -> String {
    let mut out = format!(
        "{:<18} {:>12} {:>12} {:>12} {:>8} {:>12}\n",
        "shots, policy", "loss yd", "left yd", "worse %", "spent", "curable left"
    );
    for (n, shots) in SHOTS.into_iter().enumerate() {
        if cases.iter().any(|c| c.outcomes[n].is_empty()) {
            continue;
        }
        let _ = writeln!(out, "{shots} shots");
        for p in POLICIES {
            let s = summary(cases, n, p);
            let _ = writeln!(
                out,
                "{:<18} {:>12} {:>12} {:>12} {:>8.1} {:>12}",
                format!("  {}", name(p)),
                s.loss.show(1.0 / YARD, 2),
                s.left.show(1.0 / YARD, 2),
                s.worse.show(100.0, 1),
                s.spent.mean,
                s.to_rule.show(1.0, 2),
            );
        }
    }
    out
}

/// Bounds of the bins of stated probabilities, %.
const BINS: [f64; 6] = [55.0, 65.0, 75.0, 85.0, 95.0, 100.1];

/// Rows of a policy with all numbers of shots: the first ones, or all.
pub fn stated(cases: &[Case], p: Policy, first_only: bool) -> Vec<Stated> {
    let i = POLICIES.iter().position(|q| *q == p).expect("listed");
    cases
        .iter()
        .flat_map(|c| c.outcomes.iter().filter_map(move |o| o.get(i)))
        .flat_map(|o| &o.rows)
        .filter(|r| r.rank == 0 || !first_only)
        .copied()
        .collect()
}

/// How often what was said to help did help, by what was stated.
pub fn calibration(cases: &[Case]) -> String {
    let mut out = format!("{:<32}", "said to help with, %");
    for b in BINS.windows(2) {
        let _ = write!(out, " {:>8}", format!("{:.0}-{:.0}", b[0], b[1].min(100.0)));
    }
    out.push('\n');
    for (p, first) in [
        (Policy::Unlearned, true),
        (Policy::Unlearned, false),
        (Policy::Learned, true),
        (Policy::Learned, false),
        (Policy::AllDays, true),
    ] {
        let rows = stated(cases, p, first);
        let label = format!(
            "{}, {}",
            name(p),
            if first { "first row" } else { "all rows" }
        );
        let mut counts = format!("{label:<32}");
        let mut shares = format!("{:<32}", "  did, %");
        for b in BINS.windows(2) {
            let inside = |r: &&Stated| (b[0]..b[1]).contains(&(100.0 * r.helps));
            let these: Vec<&Stated> = rows.iter().filter(inside).collect();
            let _ = write!(counts, " {:>8}", these.len());
            let hits = these.iter().filter(|r| r.helped).count();
            let e = Estimate::share(hits, these.len());
            let text = if these.is_empty() {
                "-".into()
            } else {
                e.show(100.0, 0)
            };
            let _ = write!(shares, " {text:>8}");
        }
        let _ = writeln!(out, "{counts}\n{shares}");
        let inside = rows
            .iter()
            .filter(|r| {
                (r.true_change - r.predicted).abs() < trimtab::correction::Z80 * r.predicted_sd
            })
            .count();
        let _ = writeln!(
            out,
            "  80 % interval of the change of offline held {} %",
            Estimate::share(inside, rows.len()).show(100.0, 1)
        );
    }
    out
}

fn kind(a: &Answer) -> &'static str {
    match a {
        Answer::Change => "change",
        Answer::NotTheClub { .. } => "not the club",
        Answer::WithinNoise => "within noise",
        Answer::TooFew { .. } => "too few",
        Answer::NotMeasured { .. } => "not measured",
    }
}

/// How often each answer was given, % of players.
pub fn answers(cases: &[Case]) -> String {
    let kinds = [
        "change",
        "not the club",
        "within noise",
        "too few",
        "not measured",
    ];
    let mut out = format!("{:<15}", "answers, %");
    for k in kinds {
        let _ = write!(out, " {k:>12}");
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    for (n, shots) in SHOTS.into_iter().enumerate() {
        if cases.iter().any(|c| c.outcomes[n].is_empty()) {
            continue;
        }
        for p in [Policy::Unlearned, Policy::Learned, Policy::AllDays] {
            let short = name(p).trim_start_matches("trimtab, ");
            let _ = write!(out, "{:<15}", format!("{shots}, {short}"));
            for k in kinds {
                let hits =
                    of(cases, n, p).filter(|o| o.answer.as_ref().is_some_and(|a| kind(a) == k));
                let share = 100.0 * hits.count() as f64 / cases.len() as f64;
                let _ = write!(out, " {share:>12.1}");
            }
            out.push('\n');
        }
    }
    out
}

/// One line for each player, number of shots and proposal, for a look at who was helped and why.
pub fn each(cases: &[Case], heads: &[trimtab::head::Head]) -> String {
    let mut out = String::from(
        "player,device,head,squares,closure_deg_mm,low,shots,policy,answer,before_yd,seen_yd,seen_se_yd,after_yd,\
         best_yd,rule_yd,known_yd,loss_before_yd,loss_yd,spent,helps,predicted_yd,predicted_sd_yd,true_yd,\
         setting\n",
    );
    for c in cases {
        for (n, outcomes) in c.outcomes.iter().enumerate() {
            for (p, o) in POLICIES.iter().zip(outcomes) {
                let Some(answer) = &o.answer else { continue };
                let yd = |i: usize| outcomes[i].after.offline() / YARD;
                let (r, first) = (&c.player.response, o.rows.first());
                let row = |f: fn(&Stated) -> f64| first.map_or(f64::NAN, f);
                let _ = writeln!(
                    out,
                    "{},{:?},{},{:.2},{:.2},{},{},{},{},{:.2},{:.2},{:.2},{:.2},{:.2},{:.2},{:.2},{:.2},{:.2},{},\
                     {:.2},{:.2},{:.2},{:.2},{}",
                    c.player.name,
                    c.player.device,
                    c.player.head,
                    r.squares,
                    r.face_per_cg_toe,
                    c.goal.apex.is_some(),
                    SHOTS[n],
                    name(*p).replace(", ", " "),
                    kind(answer),
                    yd(0),
                    o.seen[0] / YARD,
                    o.seen[1] / YARD,
                    o.after.offline() / YARD,
                    yd(POLICIES.len() - 1),
                    yd(1),
                    yd(POLICIES.len() - 3),
                    outcomes[0].loss / YARD,
                    o.loss / YARD,
                    o.spent,
                    row(|r| r.helps),
                    row(|r| r.predicted / YARD),
                    row(|r| r.predicted_sd / YARD),
                    row(|r| r.true_change / YARD),
                    o.setting.describe(&heads[c.player.head]).replace(',', ";"),
                );
            }
        }
    }
    out
}
