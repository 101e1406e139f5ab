"""Hosel rotations by SciPy's Rotation, the attitudes by root finding.

Who decides the head's attitude is solved for what the documentation says of it: a soled head is
yawed until its shaft does not lean fore or aft, and a squared face is turned about the shaft until
its normal has no part to the side.
"""

import math

import numpy as np
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

import head as heads
from common import DEG, Draw, fixture

SEED = 30031
DIGITS = 14
RELATIVE, ABSOLUTE = 1e-10, 1e-12

ATTITUDES = ["grip-kept", "soled", "face-squared"]


def shaft(lie_deg):
    """Up the shaft, in the head frame at address."""
    lie = lie_deg * DEG
    return np.array([-math.cos(lie), 0.0, math.sin(lie)])


def bore(tilt_deg, clock_deg, lie_deg):
    """Turn of the head against the shaft by a sleeve of a tilt at a clock angle."""
    lie, clock = lie_deg * DEG, clock_deg * DEG
    upright = np.array([0.0, -1.0, 0.0])
    loft_up = np.array([math.sin(lie), 0.0, math.cos(lie)])
    return Rotation.from_rotvec(tilt_deg * DEG * (math.cos(clock) * upright + math.sin(clock) * loft_up))


def bend(loft_deg, lie_deg):
    loft = Rotation.from_rotvec([loft_deg * DEG, 0.0, 0.0])
    return Rotation.from_rotvec([0.0, -lie_deg * DEG, 0.0]) * loft


def sleeve(about, position, lie_deg, loft_deg, attitude):
    """Turn of the head from its attitude at the reference position."""
    clocks = about["clocks_deg"]
    now, then = (bore(about["tilt_deg"], clocks[i], lie_deg) for i in (position, about["reference"]))
    kept = now * then.inv()
    axis = shaft(lie_deg)
    if attitude == "grip-kept":
        return kept
    if attitude == "soled":
        in_head = kept.inv().apply(axis)

        def lean(yaw):
            return Rotation.from_rotvec([0.0, 0.0, yaw]).apply(in_head)[1]

        return Rotation.from_rotvec([0.0, 0.0, brentq(lean, -0.7, 0.7, xtol=1e-15)])

    def side(turn):
        return (Rotation.from_rotvec(turn * axis) * kept).apply(heads.normal(loft_deg))[0]

    return Rotation.from_rotvec(brentq(side, -0.5, 0.5, xtol=1e-15) * axis) * kept


def angles(turn, loft_deg):
    """What a gauge reads after a turn: change of loft, lie and face angle, deg."""
    n, toe = turn.apply(heads.normal(loft_deg)), turn.apply([1.0, 0.0, 0.0])
    level = math.hypot(n[0], n[1])
    return {
        "loft_deg": math.degrees(math.atan2(n[2], level)) - loft_deg,
        "lie_deg": math.degrees(math.atan2(toe[2], math.hypot(toe[0], toe[1]))),
        "face_deg": math.degrees(math.atan2(n[0], n[1])),
    }


def make():
    draw = Draw(SEED)
    cases = []
    for i in range(240):
        loft, lie = draw.between(7, 60), draw.between(54, 66)
        about = {
            "tilt_deg": draw.between(0.3, 3),
            "clocks_deg": [draw.between(0, 360) for _ in range(4)],
            "reference": draw.integer(0, 3),
        }
        position = draw.integer(0, 3)
        bent = [draw.between(-4, 4), draw.between(-4, 4)]
        attitude = ATTITUDES[i % 3]
        turn = sleeve(about, position, lie, loft, attitude) * bend(*bent)
        cases.append(
            {
                "loft_deg": loft,
                "lie_deg": lie,
                "sleeve": about,
                "position": position,
                "bend_loft_deg": bent[0],
                "bend_lie_deg": bent[1],
                "attitude": attitude,
                "rotation": turn.as_matrix(),
                "change": angles(turn, loft),
            }
        )
    return fixture(
        "hosel", "turns of sleeve and bend, three attitudes", SEED, ["scipy", "numpy"], DIGITS, cases
    )
