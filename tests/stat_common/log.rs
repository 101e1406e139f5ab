//! A bench with the log of whole workshops: invented players with invented heads, each with builds
//! at several settings, each session a file as a device would write it.

use super::Noise;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::Path;
use trimtab::bench::Bench;
use trimtab::bench::describe::Source;
use trimtab::bench::session::parse_session;
use trimtab::bench::store::NewSession;
use trimtab::club::Club;
use trimtab::flight::Conditions;
use trimtab::hand::Hand;
use trimtab::impact::Delivery;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::units::{DEG, MM, MPH, RPM, YARD};

const NOW: &str = "2026-11-01T09:00:00Z";

/// How large a log is.
#[derive(Debug, Clone, Copy)]
pub struct Log {
    pub players: usize,
    pub heads: usize,
    /// Heads of a player.
    pub heads_each: usize,
    /// Settings in which a player has been seen with a head.
    pub settings: usize,
    pub sessions: usize,
    /// Shots of all sessions.
    pub shots: usize,
}

impl Log {
    /// A million shots: 35,000 sessions of 28 or 29 shots, 200 players, 50 heads.
    pub const MILLION: Log = Log {
        players: 200,
        heads: 50,
        heads_each: 6,
        settings: 3,
        sessions: 35_000,
        shots: 1_000_000,
    };

    /// Writes it into a new bench.
    pub fn write(&self, file: &Path) {
        let mut bench = Bench::create(file).expect("a new file");
        let mut z = Noise::new(1);
        for h in 0..self.heads {
            add(&head(h, &mut z), |s| bench.add_head(s, NOW).map(drop));
        }
        for p in 0..self.players {
            let text = format!(
                "name = \"player {p:03}\"\nhand = \"{}\"\n",
                if hand(p) == Hand::Left {
                    "left"
                } else {
                    "right"
                }
            );
            add(&text, |s| bench.add_player(s, NOW).map(drop));
            for (h, s) in self.builds(p) {
                let text = build(p, h, s, &mut z);
                add(&text, |s| bench.add_build(s, NOW).map(drop));
            }
        }
        let mut clubs = HashMap::new();
        for j in 0..self.sessions {
            let of = |j| j * self.shots / self.sessions;
            self.session(&mut bench, &mut clubs, j, of(j + 1) - of(j));
        }
    }

    /// Heads and settings of a player.
    fn builds(&self, p: usize) -> impl Iterator<Item = (usize, usize)> {
        let (heads, settings) = (self.heads, self.settings);
        (0..self.heads_each).flat_map(move |k| (0..settings).map(move |s| ((7 * p + k) % heads, s)))
    }

    fn session(
        &self,
        bench: &mut Bench,
        clubs: &mut HashMap<String, Club>,
        j: usize,
        shots: usize,
    ) {
        let mut z = Noise::new(1000 + j as u64);
        // Two of three visits hold a session before and one after a change.
        let p = Noise::new((j - j % 5 % 2) as u64).below(self.players);
        let builds: Vec<_> = self.builds(p).collect();
        let (h, s) = builds[z.below(builds.len())];
        let name = build_name(p, h, s);
        let club =
            (clubs.entry(name.clone())).or_insert_with(|| bench.build(&name).expect("a build").1);
        let text = table(club, p, shots, &mut z);
        let parsed = parse_session(&text, "shots.csv", None).expect("a good file");
        let date = jiff::civil::date(2026, 1 + (j / 2 % 12) as i8, 1 + (j / 2 % 28) as i8);
        let new = NewSession {
            name: &format!("s{j:05}"),
            build: &name,
            date,
            meta: Default::default(),
            created_at: NOW,
        };
        bench.log_session(&new, &parsed).expect("a new session");
    }
}

fn add(text: &str, add: impl FnOnce(&Source<'_>) -> Result<(), trimtab::bench::BenchError>) {
    add(&Source {
        name: "made up",
        text,
    })
    .expect("a good description");
}

/// Every fifth is left-handed.
fn hand(p: usize) -> Hand {
    if p % 5 == 0 { Hand::Left } else { Hand::Right }
}

fn head(h: usize, z: &mut Noise) -> String {
    let [cg, depth, up, loft] = [z.normal(), z.normal(), z.normal(), z.normal()];
    format!(
        "name = \"head {h:02}\"\nkind = \"driver\"\nloft_deg = {:.1}\nlie_deg = 58.0\n\
         [face]\nwidth_mm = 108\nheight_mm = 56\nbulge_radius_mm = 305\nroll_radius_mm = 300\n\
         [measured]\nmass_g = 203.0\ncg_mm = [{:.1}, {:.1}, {:.1}]\n\
         inertia_g_cm2 = [2900, 4000, 5100]\n\
         [measured.setting]\ntrack = {{ heel-toe = {{ position_percent = 50, mass_g = 14 }} }}\n\
         [[track]]\nname = \"heel-toe\"\npath_mm = [[-38, -64, -22], [0, -79, -22], [38, -64, -22]]\n\
         masses_g = [8, 14, 20]\nsize_mm = [12, 10, 8]\n\
         [[zone]]\nname = \"back\"\nat_mm = [2, -92, -6]\nmax_g = 12\n\
         [sleeve]\ntilt_deg = 1.2\npositions_deg = [0, 45, 90, 135, 180, 225, 270, 315]\n\
         reference_deg = 180\n",
        9.8 + 0.5 * loft,
        1.0 + cg,
        -37.0 + 1.5 * depth,
        -2.0 + up,
    )
}

fn build_name(p: usize, h: usize, s: usize) -> String {
    format!("p{p:03} h{h:02} {s}")
}

fn build(p: usize, h: usize, s: usize, z: &mut Noise) -> String {
    let mut text = format!(
        "name = \"{}\"\nplayer = \"player {p:03}\"\nhead = \"head {h:02}\"\n\
         built_on = \"2026-01-01\"\nlength_in = 45\n\
         [[part]]\nname = \"shaft\"\nmass_g = 62\nbalance_in = 22\n\
         [[part]]\nname = \"grip\"\nmass_g = 50\nbalance_in = 4\n",
        build_name(p, h, s)
    );
    if s > 0 {
        let _ = write!(
            text,
            "[setting]\ntrack = {{ heel-toe = {{ position_percent = {}, mass_g = {} }} }}\n\
             sleeve_deg = {}\nhot_melt_g = {{ back = {} }}\n",
            10 * z.below(11),
            [8, 14, 20][z.below(3)],
            45 * z.below(8),
            2 * z.below(4),
        );
    }
    text
}

/// The file of a session. A third of the players is seen with club data, a third with strike
/// location, a third with the ball alone.
fn table(club: &Club, p: usize, shots: usize, z: &mut Noise) -> String {
    let physics = Physics::default();
    let striker = physics
        .striker(&club.head, &club.setting, &club.setting)
        .expect("its setting");
    let air = Conditions::default();
    let range = physics.range(&air);
    let mut centre = priors::player(&club.head).mean;
    let mut own = Noise::new(p as u64);
    let within = priors::within(club.head.kind);
    centre += within.component_mul(&own.vector());
    let device = p % 3;
    let sign = hand(p).sign();
    let mut text = String::from(
        "ball_speed_mph,launch_angle_deg,launch_direction_deg,spin_rate_rpm,spin_axis_deg,carry_yd",
    );
    text += [
        ",head_speed_mph,club_path_deg,face_angle_deg\n",
        ",head_speed_mph,strike_toe_mm,strike_up_mm\n",
        "\n",
    ][device];
    for _ in 0..shots {
        let d = Delivery::from_vector(&(centre + within.component_mul(&z.vector())));
        let l = striker.launch(&d, &physics.ball, &physics.impact);
        let carry = range.fly(&l).carry();
        let _ = write!(
            text,
            "{:.1},{:.1},{:.1}",
            l.ball_speed / MPH,
            l.launch_angle / DEG,
            sign * l.launch_direction / DEG,
        );
        // A topped ball has no spin axis to tell.
        let _ = if l.spin_axis.abs() < 85.0 * DEG {
            write!(
                text,
                ",{:.0},{:.1}",
                l.spin_rate / RPM,
                sign * l.spin_axis / DEG
            )
        } else {
            write!(text, ",,")
        };
        let _ = write!(text, ",{:.1}", carry / YARD);
        let _ = match device {
            0 => writeln!(
                text,
                ",{:.1},{:.1},{:.1}",
                d.head_speed / MPH,
                sign * d.club_path / DEG,
                sign * d.face_angle / DEG
            ),
            1 => writeln!(
                text,
                ",{:.1},{:.0},{:.0}",
                d.head_speed / MPH,
                d.strike_toe / MM,
                d.strike_up / MM
            ),
            _ => writeln!(text),
        };
    }
    text
}
