"""Heads of boxes for the scripts: random ones, and what any setting of one weighs.

Mass properties here never use the parallel-axis theorem: SymPy integrates 1, x and x x' over a
box once, and a head is the sum of those moments about the origin of the head frame.
"""

import numpy as np
import sympy as sp

from common import DEG


def box_moments():
    """Mass, first and second moments about the origin of a box, as functions of its numbers."""
    x, y, z = where = sp.symbols("x y z")
    m, *rest = sp.symbols("m a b c l w h")
    centre, size = rest[:3], rest[3:]
    limits = [(q, c - s / 2, c + s / 2) for q, c, s in zip(where, centre, size)]
    density = m / sp.prod(size)

    def over(f):
        return sp.cancel(density * sp.integrate(f, *limits))

    first = [over(q) for q in where]
    second = [[over(p * q) for q in where] for p in where]
    return sp.lambdify((m, *centre, *size), [over(sp.Integer(1)), first, second], "numpy")


MOMENTS = box_moments()


def moments(mass, at, size):
    """(mass, first moments, second moments) of a box about the origin."""
    m, first, second = MOMENTS(mass, *at, *size)
    return np.concatenate([[m], np.ravel(first), np.ravel(second)])


def properties(total):
    """Mass, CG and inertia tensor about the CG from summed moments."""
    m, first, second = total[0], total[1:4], total[4:].reshape(3, 3)
    cg = first / m
    central = second - m * np.outer(cg, cg)
    return m, cg, np.trace(central) * np.eye(3) - central


def on_track(path, position):
    """Point at a share of a path's length."""
    path = np.array(path)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    return np.array([np.interp(position * along[-1], along, path[:, i]) for i in range(3)])


def added(head, setting):
    """The boxes that a setting adds: (mass, centre, size)."""
    boxes = [
        (s["mass_kg"], on_track(t["path_m"], s["position"]), t["size_m"])
        for t, s in zip(head["tracks"], setting["tracks"])
    ]
    for lever in ("ports", "zones"):
        boxes += [(m, b["at_m"], b["size_m"]) for b, m in zip(head[lever], setting[lever])]
    return [b for b in boxes if b[0] > 0]


def random_head(draw):
    """A random head: a bare body of boxes, tracks, ports, zones, a sleeve and bend limits."""

    def place():
        return [draw.between(-0.06, 0.06), draw.between(-0.09, -0.005), draw.between(-0.03, 0.03)]

    def size(low, high):
        return draw.vector(low, high)

    def masses():
        return sorted(draw.between(0.002, 0.016) for _ in range(draw.integer(1, 3)))

    body = [(draw.between(0.02, 0.06), place(), size(0.01, 0.06)) for _ in range(draw.integer(3, 6))]
    head = {
        "body": [{"mass_kg": m, "at_m": at, "size_m": s} for m, at, s in body],
        "tracks": [
            {
                "path_m": [place() for _ in range(draw.integer(2, 4))],
                "masses_kg": masses(),
                "size_m": size(0.005, 0.025),
            }
            for _ in range(draw.integer(0, 2))
        ],
        "ports": [
            {"at_m": place(), "masses_kg": masses(), "size_m": size(0.004, 0.015)}
            for _ in range(draw.integer(0, 2))
        ],
        "zones": [
            {"at_m": place(), "max_kg": 0.012, "size_m": size(0.005, 0.03)}
            for _ in range(draw.integer(0, 2))
        ],
        "loft_deg": draw.between(8, 60),
        "lie_deg": draw.between(54, 66),
        "sleeve": {
            "tilt_deg": draw.between(0.5, 2),
            "clocks_deg": [draw.between(0, 360) for _ in range(draw.integer(2, 8))],
        },
    }
    head["sleeve"]["reference"] = draw.integer(0, len(head["sleeve"]["clocks_deg"]) - 1)
    return head


def random_setting(draw, head):
    return {
        "tracks": [
            {"position": draw.between(0, 1), "mass_kg": draw.one_of(t["masses_kg"])}
            for t in head["tracks"]
        ],
        "ports": [draw.one_of(p["masses_kg"]) for p in head["ports"]],
        "zones": [draw.between(0, z["max_kg"]) for z in head["zones"]],
        "clock": draw.integer(0, len(head["sleeve"]["clocks_deg"]) - 1),
        "bend_loft_deg": draw.between(-2, 2),
        "bend_lie_deg": draw.between(-2, 2),
    }


def boxes(head, setting):
    """All boxes of a head at a setting."""
    body = [(b["mass_kg"], b["at_m"], b["size_m"]) for b in head["body"]]
    return body + added(head, setting)


def at_setting(head, setting):
    """Mass, CG and inertia of a head at a setting."""
    return properties(sum(moments(*b) for b in boxes(head, setting)))


def as_case(m, cg, inertia):
    i = inertia
    return {
        "mass_kg": m,
        "cg_m": cg,
        "inertia_kg_m2": [i[0, 0], i[1, 1], i[2, 2], i[0, 1], i[0, 2], i[1, 2]],
    }


def normal(loft_deg):
    """Face-centre normal in the head frame."""
    return np.array([0.0, np.cos(loft_deg * DEG), np.sin(loft_deg * DEG)])
