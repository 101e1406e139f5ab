//! A head, a player, a build and a session for the tests of the bench.
#![allow(dead_code)] // each test file uses a part

use tempfile::TempDir;
use trimtab::bench::Bench;
use trimtab::bench::describe::Source;

pub const NOW: &str = "2026-03-02T09:00:00Z";

pub const HEAD: &str = r#"
name = "Heron 10"
kind = "driver"
loft_deg = 10.5
lie_deg = 58.0
volume_cm3 = 455
[face]
width_mm = 100
height_mm = 55
bulge_radius_mm = 305
[measured]
mass_g = 203.0
cg_mm = [1.0, -38.0, 3.0]
inertia_g_cm2 = [2800, 4100, 5200]
[measured.setting]
track = { heel-toe = { position_percent = 50, mass_g = 12 } }
screw_g = { sole = 7 }
[[track]]
name = "heel-toe"
path_mm = [[-35, -55, -18], [35, -55, -18]]
masses_g = [8, 12, 16]
size_mm = [14, 14, 8]
[[screw]]
name = "sole"
at_mm = [0, -70, -15]
masses_g = [3, 7, 11]
[[zone]]
name = "heel"
at_mm = [-35, -25, -15]
max_g = 12
[sleeve]
tilt_deg = 1.5
positions_deg = [0, 45, 90, 135, 180, 225, 270, 315]
reference_deg = 0
[bend]
loft_limit_deg = 2
lie_limit_deg = 2
"#;

pub const PLAYER: &str = r#"
name = "Ada"
hand = "left"
head_speed_mph = 95
[aim]
start_yd = 2
curve_m = -3
"#;

pub const BUILD: &str = r#"
name = "Ada driver 1"
player = "Ada"
head = "Heron 10"
built_on = "2026-03-02"
length_in = 45
swing_weight_read = "D2.5"
[measured]
loft_deg = 10.1
lie_deg = 58.6
[gauge]
name = "bench gauge"
checked_on = "2026-03-02"
loft_offset_deg = 0.2
lie_offset_deg = -0.1
[[part]]
name = "shaft"
mass_g = 62
balance_in = 22
[[part]]
name = "grip"
mass_g = 50
balance_in = 4
[setting]
track = { heel-toe = { position_percent = 20 } }
hot_melt_g = { heel = 4 }
sleeve_deg = 90
bend_loft_deg = 0.5
"#;

pub const SESSION: &str = "shot,ball_speed_mph,launch_angle_deg,launch_direction_deg,note\n\
                           1,150.5,12.5,2 R,solid\n2,148,11,L 3,\n3,-,13,1,\"low, toe\"\n";

/// A text that has a name.
pub fn source<'a>(name: &'a str, text: &'a str) -> Source<'a> {
    Source { name, text }
}

/// A bench with a head, a player and a build in a folder of its own.
pub fn bench() -> (TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let mut bench = Bench::create(&folder.path().join("bench.db")).unwrap();
    bench.add_head(&source("head.toml", HEAD), NOW).unwrap();
    bench
        .add_player(&source("player.toml", PLAYER), NOW)
        .unwrap();
    bench.add_build(&source("build.toml", BUILD), NOW).unwrap();
    (folder, bench)
}
