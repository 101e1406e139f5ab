//! The closed loop: simulated players whose truth is not the library's, what each policy makes of
//! their clubs, and whether the stated probabilities hold.
//!
//! `cargo run --release --example closed-loop` runs all of it; `-- --players 40` a part. The same
//! seed prints the same on any number of threads.

mod club;
mod device;
mod draws;
mod season;
mod table;
mod trial;
mod truth;

use clap::Parser;
use indicatif::{ProgressBar, ProgressStyle};
use std::error::Error;

/// Simulated players, hidden truth, four policies and the all-knowing one.
#[derive(Parser)]
#[command(name = "closed-loop")]
struct Args {
    /// Players.
    #[arg(long, default_value_t = 500, value_parser = clap::value_parser!(u16).range(2..=5000))]
    players: u16,
    /// Seed of all draws.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Deliveries that stand for a player in a proposal; the program itself takes 200.
    #[arg(long, default_value_t = 50, value_parser = clap::value_parser!(u16).range(20..=1000))]
    deliveries: u16,
    /// Positions tried on a track; the program itself takes 13.
    #[arg(long, default_value_t = 13, value_parser = clap::value_parser!(u8).range(2..=13))]
    track_positions: u8,
    /// Most levers changed at once; the program itself takes 3.
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=4))]
    levers: u8,
    /// Factor on what a day adds to form and device; 0 makes every day the same.
    #[arg(long, default_value_t = 1.0)]
    day: f64,
    /// Visits of each player in the season before.
    #[arg(long, default_value_t = 12)]
    visits: usize,
    /// Only this number of shots: 12, 30 or 60.
    #[arg(long)]
    shots: Option<usize>,
    /// One line for each player, number of shots and proposal (CSV) instead of the tables.
    #[arg(long)]
    each: bool,
}

fn main() -> Result<(), Box<dyn Error>> {
    let args = Args::parse();
    let plan = trial::Plan {
        players: usize::from(args.players),
        seed: args.seed,
        deliveries: usize::from(args.deliveries),
        track_positions: usize::from(args.track_positions),
        levers: usize::from(args.levers),
        day: args.day,
        visits: args.visits,
        shots: trial::SHOTS.map(|n| args.shots.is_none_or(|s| s == n)),
    };
    let bar = ProgressBar::new(u64::from(args.players)).with_style(ProgressStyle::with_template(
        "{pos} of {len} players, {elapsed}",
    )?);
    let cases = trial::run(&plan, || bar.inc(1))?;
    bar.finish_and_clear();
    if args.each {
        print!("{}", table::each(&cases, &trial::heads()));
        return Ok(());
    }
    println!(
        "A closed loop of {} invented players, seed {}.",
        plan.players, plan.seed
    );
    println!("loss: expected; left: |mean offline|; worse: by more than 1 yd; spent: shots hit;");
    println!("curable left: what is left beyond the all-knowing, the rule of thumb's being 1.\n");
    println!("{}", table::policies(&cases));
    println!("{}", table::answers(&cases));
    print!("{}", table::calibration(&cases));
    Ok(())
}
