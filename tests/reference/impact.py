"""Impacts as one linear system of the conservation laws, in the target frame.

Unknown are the velocities and spins of ball and head after the impact and the impulse, 15 numbers.
Known are Newton's and Euler's laws for either body over the impact (12 equations) and what happens
at the contact (3): the normal part of the relative velocity reverses with the restitution, and the
tangential part reverses with its own, if friction can make it. If it cannot, the impulse lies on
the friction cone, on the side on which sticking would have needed it. An outcome with more kinetic
energy than there was before is scaled back to the one with just as much, by root finding on the
energy itself.

The script keeps the books: it fails by itself if linear or angular momentum moved, if energy grew,
or if friction went beyond its limit.
"""

import math

import numpy as np
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

import head as heads
import hosel
from common import DEG, RPM, Draw, data, fixture

SEED = 15015
DIGITS = 13
RELATIVE, ABSOLUTE = 1e-9, 1e-10

KINDS = ["driver", "fairway", "hybrid", "iron", "wedge"]


def cross(v):
    """Matrix of v x."""
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])


def tensor(six):
    xx, yy, zz, xy, xz, yz = six
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])


def face_point(face, toe, up, loft_deg):
    """Point and outward normal of a face whose sections are circles, in the head frame."""
    drop, slope = 0.0, []
    for radius, s in ((face["bulge_m"], toe), (face["roll_m"], up)):
        if radius is None:
            slope.append(0.0)
            continue
        inside = math.asin(s / radius)
        drop += 2 * radius * math.sin(inside / 2) ** 2
        slope.append(math.tan(inside))
    tip = Rotation.from_rotvec([loft_deg * DEG, 0.0, 0.0])
    normal = np.array([slope[0], 1.0, slope[1]])
    return tip.apply([toe, -drop, up]), tip.apply(normal / np.linalg.norm(normal))


def hands(delivery, turn, loft_deg):
    """Pitch and yaw that bring the face-centre normal of a turned head to where it is delivered."""
    normal = turn.apply(heads.normal(loft_deg))

    def pitched(angle):
        return Rotation.from_rotvec([angle, 0.0, 0.0]).apply(normal)

    pitch = brentq(
        lambda a: pitched(a)[2] - math.sin(delivery["dynamic_loft_deg"] * DEG), -0.45, 0.45, xtol=1e-15
    )
    across, along, _ = pitched(pitch)
    yaw = delivery["face_angle_deg"] * DEG - math.atan2(across, along)
    return Rotation.from_rotvec([0.0, 0.0, -yaw]) * Rotation.from_rotvec([pitch, 0.0, 0.0])


def solve(body, ball, n, r_head, r_ball, velocity, contact):
    """The 15 unknowns for three contact conditions: rows on the relative velocity or the impulse."""
    one, nil = np.eye(3), np.zeros((3, 3))
    inertia_ball = ball["inertia_kg_m2"] * one
    rows = [
        # ball velocity, ball spin, head velocity, head spin, impulse
        [ball["mass_kg"] * one, nil, nil, nil, -one],
        [nil, inertia_ball, nil, nil, -cross(r_ball)],
        [nil, nil, body["mass"] * one, nil, one],
        [nil, nil, nil, body["inertia"], cross(r_head)],
    ]
    right = np.concatenate([np.zeros(6), body["mass"] * velocity, np.zeros(3)])
    # Velocity of the head's contact point less that of the ball's.
    relative = np.hstack([-one, cross(r_ball), one, -cross(r_head), nil])
    on_impulse = np.hstack([nil, nil, nil, nil, one])
    last, last_right = contact(relative, on_impulse)
    matrix = np.vstack([np.block(rows), last])
    right = np.concatenate([right, last_right])
    scale = np.abs(matrix).max(axis=0)
    x = np.linalg.solve(matrix / scale, right) / scale
    return x.reshape(5, 3)


def strike(body, ball, constants, n, r_head, velocity):
    """Outcome of one impact: five vectors, whether it slid, whether energy was capped."""
    r_ball = -ball["radius_m"] * n
    approach = velocity @ n
    e = constants["restitution"] - constants["slope"] * (approach - constants["reference_speed"])
    e = min(max(e, 0.0), 1.0)
    tangent = np.linalg.svd(n[None, :])[2][1:]  # two directions across the normal
    normal_row = (n, -e * approach)

    def sticks(relative, _):
        rows = np.vstack([n @ relative, tangent @ relative])
        return rows, np.array([normal_row[1], *(-constants["tangential"] * (tangent @ velocity))])

    out = solve(body, ball, n, r_head, r_ball, velocity, sticks)
    impulse = out[4]
    aside = impulse - n * (impulse @ n)
    mu = constants["friction"]
    slid = bool(np.linalg.norm(aside) > mu * (impulse @ n))
    if slid:
        cone = n + mu * aside / np.linalg.norm(aside)
        across = np.linalg.svd(cone[None, :])[2][1:]

        def slides(relative, on_impulse):
            return np.vstack([n @ relative, across @ on_impulse]), np.array([normal_row[1], 0.0, 0.0])

        out = solve(body, ball, n, r_head, r_ball, velocity, slides)

    before = np.array([np.zeros(3), np.zeros(3), velocity, np.zeros(3), np.zeros(3)])

    def energy(state):
        v, w, head_v, head_w, _ = state
        ball_part = ball["mass_kg"] * v @ v + ball["inertia_kg_m2"] * w @ w
        return 0.5 * (ball_part + body["mass"] * head_v @ head_v + head_w @ body["inertia"] @ head_w)

    def scaled(s):
        return before + s * (out - before)

    capped = bool(energy(out) > energy(before) * (1 + 1e-12))
    if capped:
        # The energy first falls and then rises with the impulse: its other zero lies this side of 1.
        least = brentq(lambda s: energy(scaled(s + 1e-4)) - energy(scaled(s - 1e-4)), 1e-6, 1.0)
        out = scaled(brentq(lambda s: energy(scaled(s)) - energy(before), least, 1.0, xtol=1e-15))
    books(body, ball, n, mu, r_head, r_ball, before, out, energy)
    return out, slid, capped, energy(before) - energy(out)


def books(body, ball, n, mu, r_head, r_ball, before, after, energy):
    """Momentum, angular momentum about the contact point, energy and friction."""

    def linear(s):
        return ball["mass_kg"] * s[0] + body["mass"] * s[2]

    def angular(s):
        ball_part = ball["inertia_kg_m2"] * s[1] + np.cross(-r_ball, ball["mass_kg"] * s[0])
        return ball_part + body["inertia"] @ s[3] + np.cross(-r_head, body["mass"] * s[2])

    for law in (linear, angular):
        gap = np.abs(law(after) - law(before)).max()
        assert gap < 1e-11 * (1 + np.abs(law(before)).max()), (law.__name__, gap)
    assert energy(after) <= energy(before) * (1 + 1e-11), "energy grew"
    impulse = after[4]
    along = impulse @ n
    assert along > 0 and np.linalg.norm(impulse - n * along) <= mu * along * (1 + 1e-9), "friction"


def launch(velocity, spin):
    """Ball speed, launch angles, spin rate and tilt of the spin axis; rifle spin left out."""
    speed = np.linalg.norm(velocity)
    right = np.cross(velocity, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    down = np.cross(velocity, right) / speed
    back, side = spin @ right, spin @ down
    return {
        "ball_speed_m_s": speed,
        "launch_angle_deg": math.degrees(math.asin(velocity[2] / speed)),
        "launch_direction_deg": math.degrees(math.atan2(velocity[0], velocity[1])),
        "spin_rate_rpm": math.hypot(back, side) / RPM,
        "spin_axis_deg": math.degrees(math.atan2(side, back)),
    }


def make():
    draw = Draw(SEED)
    constants = data("constants.toml")
    cases = []
    for i in range(200):
        # Every fifth head is a stick that is struck hard off its CG by a springy, grippy ball.
        wild = i % 5 == 4
        head = heads.random_head(draw)
        reference, base, setting = (heads.random_setting(draw, head) for _ in range(3))
        kind = KINDS[i % 5] if not wild else draw.one_of(KINDS)
        if wild:
            for b in head["body"]:
                b["size_m"] = [draw.between(0.005, 0.06), 0.006, 0.006]
                b["at_m"] = [draw.between(0.0, 0.05), draw.between(-0.03, -0.01), draw.between(-0.02, 0.02)]
            for lever in ("tracks", "ports", "zones"):
                head[lever] = []
                for s in (reference, base, setting):
                    s[lever] = []
        head["face"] = {
            "bulge_m": None if kind in ("iron", "wedge") else draw.between(0.2, 0.5),
            "roll_m": None if kind in ("iron", "wedge") else draw.between(0.2, 0.5),
        }
        head["kind"] = kind
        head["restitution"] = draw.between(0.6, 0.95) if draw.chance(0.5) and not wild else None
        model = {
            "restitution": draw.between(0.97, 1.0) if wild else constants["kind"][kind]["restitution"],
            "tangential": draw.between(-0.9, -0.2) if wild else constants["kind"][kind]["tangential"],
            "friction": draw.between(0.2, 1.5) if wild else draw.between(0.1, 0.6),
            "slope": 0.0 if wild else constants["restitution"]["slope_s_m"],
            "reference_speed": constants["restitution"]["reference_normal_speed_m_s"],
            "mass_exponent": constants["head_speed"]["mass_exponent"],
        }
        loft = head["loft_deg"]
        delivery = {
            "head_speed_m_s": draw.between(15, 60),
            "club_path_deg": draw.between(-12, 12),
            "attack_angle_deg": draw.between(-10, 8),
            "face_angle_deg": draw.between(-10, 10),
            "dynamic_loft_deg": short_loft(loft + draw.between(-8, 5)),
            "strike_toe_m": draw.between(-0.03, 0.03),
            "strike_up_m": draw.between(-0.02, 0.02),
        }
        ball = {"mass_kg": draw.between(0.044, 0.0465), "radius_m": draw.between(0.0212, 0.0218)}
        ball["inertia_kg_m2"] = float(f"{ball['mass_kg'] * ball['radius_m'] ** 2 * draw.between(0.36, 0.44):.6g}")
        attitude = hosel.ATTITUDES[i % 3]

        def turn(s):
            turned = hosel.sleeve(
                {**head["sleeve"], "reference": reference["clock"]}, s["clock"], head["lie_deg"], loft, attitude
            )
            return turned * hosel.bend(s["bend_loft_deg"], s["bend_lie_deg"])

        head["sleeve"]["reference"] = reference["clock"]
        mass, cg, inertia = heads.at_setting(head, setting)
        mass_then = heads.at_setting(head, base)[0]
        held = hands(delivery, turn(base), loft)
        orientation = held * turn(setting)
        point, normal = face_point(head["face"], delivery["strike_toe_m"], delivery["strike_up_m"], loft)
        path, attack = delivery["club_path_deg"] * DEG, delivery["attack_angle_deg"] * DEG
        velocity = delivery["head_speed_m_s"] * np.array(
            [math.cos(attack) * math.sin(path), math.cos(attack) * math.cos(path), math.sin(attack)]
        )
        # M V^n stays.
        velocity = velocity * (mass_then / mass) ** (1 / model["mass_exponent"])
        turned = orientation.as_matrix()
        body = {"mass": mass, "inertia": turned @ inertia @ turned.T}
        effective = model if head["restitution"] is None else {**model, "restitution": head["restitution"]}
        out, slid, capped, lost = strike(
            body, ball, effective, orientation.apply(normal), orientation.apply(point - cg), velocity
        )
        cases.append(
            {
                "head": head,
                "reference": reference,
                "measured": heads.as_case(*heads.at_setting(head, reference)),
                "base": base,
                "setting": setting,
                "attitude": attitude,
                "constants": model,
                "delivery": delivery,
                "ball": ball,
                "outcome": {
                    "ball_velocity_m_s": out[0],
                    "ball_spin_rad_s": out[1],
                    "head_velocity_m_s": out[2],
                    "head_spin_rad_s": out[3],
                    "impulse_n_s": out[4],
                    "sliding": slid,
                    "energy_capped": capped,
                    "energy_lost_j": lost,
                    "launch": launch(out[0], out[1]),
                },
            }
        )
    return fixture(
        "impact",
        "outcomes of 200 impacts with random heads, settings, deliveries and balls",
        SEED,
        ["scipy", "sympy", "numpy"],
        DIGITS,
        cases,
    )


def short_loft(loft):
    return float(f"{min(max(loft, 4.0), 60.0):.6g}")
