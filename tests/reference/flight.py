"""Ball flights by SciPy's DOP853 at a relative and absolute tolerance of 1e-11.

The equations of motion are those of the flight module's documentation:

    dv/dt = -(rho A / 2 m) |v_a| (f_d Cd v_a - f_l Cl s x v_a) + g,   v_a = v - w,
    d omega/dt = -k (rho / rho_ref) omega |v_a| / r,

with the wind w = w_10 (z / 10 m)^shear, held below 1 m, and the spin axis s fixed. The
coefficients come from the set files in data/aero, read here as their comments say: analytic,
polynomial, and a table that is bilinear in the speed and spin of its own ball. What is outside a
set's range is held at its edge; below the lowest spin, lift falls to zero in proportion.
"""

import csv
import math

import numpy as np
from scipy.constants import g
from scipy.integrate import solve_ivp
from scipy.interpolate import RectBivariateSpline, RegularGridInterpolator

import air
from common import DEG, ROOT, RPM, Draw, data, fixture

SEED = 19947
DIGITS = 11
# The coefficients have kinks, at which the last digits of an adaptive method depend on where its
# steps happen to fall: without a longest step, by up to 1.2e-6 m.
LONGEST_STEP = 0.05
RELATIVE, ABSOLUTE = 1e-7, 1e-6

SETS = ["bearman-harvey-1976", "smits-smith-1994", "indoor-range-2001"]


def table(name, about):
    """Coefficients from a grid of speed by spin."""
    with open(ROOT / "data" / "aero" / about["csv"], encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    speeds = sorted({float(r["speed_m_s"]) for r in rows})
    spins = sorted({float(r["spin_rpm"]) for r in rows})
    grids = {}
    for key in ("cd", "cl"):
        grids[key] = np.full((len(speeds), len(spins)), np.nan)
        for r in rows:
            place = speeds.index(float(r["speed_m_s"])), spins.index(float(r["spin_rpm"]))
            grids[key][place] = float(r[key])
    # Degree 1 without smoothing is the bilinear interpolant; the fast one of SciPy's two.
    cd, cl = (RectBivariateSpline(speeds, spins, grids[k], kx=1, ky=1, s=0) for k in grids)
    # The other one must agree.
    probe = np.random.default_rng(1).uniform([speeds[0], spins[0]], [speeds[-1], spins[-1]], (99, 2))
    for fast, key in ((cd, "cd"), (cl, "cl")):
        other = RegularGridInterpolator((speeds, spins), grids[key])(probe)
        assert np.abs(fast.ev(*probe.T) - other).max() < 1e-12, name
    diameter = about["diameter_mm"] * 1e-3
    viscosity = about["kinematic_viscosity_m2_s"]
    v_low, v_high, w_low, w_high = speeds[0], speeds[-1], spins[0], spins[-1]

    def coefficients(reynolds, ratio):
        speed = reynolds * viscosity / diameter
        rpm = ratio * speed / (0.5 * diameter) / RPM
        v = min(max(speed, v_low), v_high)
        w = min(max(rpm, w_low), w_high)
        fade = min(rpm / w_low, 1.0)
        return float(cd.ev(v, w)), float(cl.ev(v, w)) * fade

    return coefficients


def analytic(about):
    def coefficients(reynolds, ratio):
        re = np.clip(reynolds, *about["re_range"])
        s = np.clip(ratio, *about["s_range"])
        wave = math.sin(math.pi * (re - about["re0"]) / about["re1"])
        lift = about["cl_d"] * s ** about["cl_n"]
        fade = min(ratio / about["s_range"][0], 1.0)
        return about["cd_a"] + about["cd_b"] * s + about["cd_c"] * wave, lift * fade

    return coefficients


def polynomial(about):
    def coefficients(reynolds, ratio):
        r = np.clip(reynolds, *about["re_range"]) / 1e5
        s = np.clip(ratio, *about["s_range"])
        drag = np.dot(about["cd"], [1.0, s**2, r, s])
        lift = np.dot(about["cl"], [1.0, s, r**-2, s**2])
        return drag, lift * min(ratio / about["s_range"][0], 1.0)

    return coefficients


def coefficient_set(name):
    about = data(f"aero/{name}.toml")
    if "table" in about:
        form = table(name, about["table"])
    elif "analytic" in about:
        form = analytic(about["analytic"])
    else:
        form = polynomial(about["polynomial"])
    return form, about["spin_decay"] / about["spin_decay_density_kg_m3"]


def start(launch):
    """Velocity and spin axis in the target frame: x right, y to the target, z up."""
    e, d = launch["launch_angle_deg"] * DEG, launch["launch_direction_deg"] * DEG
    along = np.array([math.cos(e) * math.sin(d), math.cos(e) * math.cos(d), math.sin(e)])
    right = np.cross(along, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    # Backspin turns about the axis to the right; a tilt to the right drops that end.
    down = np.cross(along, right)
    tilt = launch["spin_axis_deg"] * DEG
    return along * launch["ball_speed_m_s"], right * math.cos(tilt) + down * math.sin(tilt)


def fly(case, sets):
    coefficients, decay = sets[case["set"]]
    ball, wind = case["ball"], case["wind"]
    state = [case["air"][k] for k in ("temperature_k", "pressure_pa", "humidity")]
    rho = air.density_cipm(*state)
    nu = air.viscosity_sutherland(state[0]) / rho
    m, r = ball["mass_kg"], ball["radius_m"]
    area = math.pi * r**2
    velocity, axis = start(case["launch"])
    wind_10 = (wind["toward_right_m_s"], wind["toward_target_m_s"])
    shear = wind["shear"]
    sx, sy, sz = axis
    drag_over = 0.5 * rho * area / m * ball["drag_factor"]
    lift_over = 0.5 * rho * area / m * ball["lift_factor"]

    def slope(_, y):
        profile = (max(y[2], 1.0) / 10.0) ** shear
        ax, ay, az = y[3] - wind_10[0] * profile, y[4] - wind_10[1] * profile, y[5]
        speed = math.sqrt(ax * ax + ay * ay + az * az)
        cd, cl = coefficients(2 * r * speed / nu, r * y[6] / speed)
        d, l = drag_over * cd * speed, lift_over * cl * speed
        return [
            y[3],
            y[4],
            y[5],
            -d * ax + l * (sy * az - sz * ay),
            -d * ay + l * (sz * ax - sx * az),
            -d * az + l * (sx * ay - sy * ax) - g,
            -decay * rho * y[6] * speed / r,
        ]

    def ground(_, y):
        return y[2]

    def top(_, y):
        return y[5]

    ground.terminal, ground.direction, top.direction = True, -1, -1
    flown = solve_ivp(
        slope,
        (0.0, 60.0),
        [0.0, 0.0, 0.0, *velocity, case["launch"]["spin_rate_rpm"] * RPM],
        method="DOP853",
        rtol=1e-11,
        atol=1e-11,
        first_step=1e-4,
        max_step=LONGEST_STEP,
        events=[ground, top],
    )
    assert flown.status == 1 and len(flown.t_events[0]) == 1, case
    end = flown.y_events[0][0]
    return {
        "offline_m": end[0],
        "downrange_m": end[1],
        "apex_m": max(y[2] for y in flown.y_events[1]),
        "time_s": flown.t_events[0][0],
        "velocity_m_s": end[3:6],
        "spin_rate_rpm": end[6] / RPM,
    }


def make():
    draw = Draw(SEED)
    sets = {name: coefficient_set(name) for name in SETS}
    cases = []
    for i in range(240):
        # The last forty in wind that grows faster with height than over short grass.
        steep = i >= 200
        case = {
            "steep": steep,
            # Half of the flights with the default set.
            "set": SETS[0] if i % 2 == 0 else SETS[1 + i // 2 % 2],
            "launch": {
                "ball_speed_m_s": draw.between(10, 90),
                "launch_angle_deg": draw.between(1, 60),
                "launch_direction_deg": draw.between(-20, 20),
                "spin_rate_rpm": 0.0 if i % 25 == 7 else draw.between(300, 12000),
                "spin_axis_deg": draw.between(-60, 60) if i % 5 == 0 else draw.between(-30, 30),
            },
            "ball": {
                "mass_kg": draw.between(0.0445, 0.0465),
                "radius_m": draw.between(0.0212, 0.0218),
                "drag_factor": draw.between(0.9, 1.1),
                "lift_factor": draw.between(0.9, 1.1),
            },
            "air": {
                "temperature_k": draw.between(263, 318),
                "pressure_pa": draw.between(65e3, 106e3),
                "humidity": draw.between(0, 1),
            },
            "wind": {
                "toward_right_m_s": 0.0 if i % 10 == 3 else draw.between(-12, 12),
                "toward_target_m_s": 0.0 if i % 10 == 3 else draw.between(-12, 12),
                "shear": draw.between(0.15, 0.3) if steep else 0.0 if i % 3 == 0 else draw.between(0.05, 1 / 7),
            },
        }
        case["landing"] = fly(case, sets)
        cases.append(case)
    return fixture(
        "flight",
        "landings of 240 flights, DOP853 at 1e-11",
        SEED,
        ["scipy", "numpy"],
        DIGITS,
        cases,
    )
