"""Mass properties of composite heads: volume integrals by SymPy, and meshes by trimesh.

Each case is a head that is given to the library as *measured* at one setting and asked for at
another, so that the recovery of the bare head is tested too. The script fails by itself if the
integrals and the meshes do not agree.
"""

import numpy as np
import trimesh

import head as heads
from common import Draw, fixture

SEED = 20021
DIGITS = 15
RELATIVE, ABSOLUTE = 1e-11, 1e-17


def by_mesh(boxes):
    """Mass, CG and inertia of boxes of different density, from closed meshes.

    A copy of each box, all with the one density 1, is scaled in mass by hand; the sum is taken
    about the origin, where inertia is additive.
    """
    mass, first, about_origin = 0.0, np.zeros(3), np.zeros((3, 3))
    for m, at, size in boxes:
        mesh = trimesh.creation.box(extents=size)
        mesh.apply_translation(at)
        mesh.density = m / mesh.volume
        mass += mesh.mass
        first += mesh.mass * mesh.center_mass
        about_origin += mesh.moment_inertia_frame(np.eye(4))
    cg = first / mass
    shift = np.eye(3) * (cg @ cg) - np.outer(cg, cg)
    return mass, cg, about_origin - mass * shift


def make():
    draw = Draw(SEED)
    cases = []
    worst = 0.0
    for _ in range(200):
        head = heads.random_head(draw)
        reference, setting = heads.random_setting(draw, head), heads.random_setting(draw, head)
        there = heads.at_setting(head, setting)
        mesh = by_mesh(heads.boxes(head, setting))
        for a, b in zip(there, mesh):
            worst = max(worst, np.abs(a - b).max() / np.abs(a).max())
        cases.append(
            {
                "head": head,
                "reference": reference,
                "measured": heads.as_case(*heads.at_setting(head, reference)),
                "setting": setting,
                "there": heads.as_case(*there),
            }
        )
    assert worst < 1e-10, f"integrals and meshes differ by {worst}"
    return fixture(
        "mass",
        "mass properties of 200 composite heads at two settings each",
        SEED,
        ["sympy", "trimesh", "numpy"],
        DIGITS,
        cases,
    )
