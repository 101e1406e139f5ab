"""Swing weight in the trade's own units, ounces and inches, as exact fractions.

D0 is 213.5 oz in about a fulcrum 14 in from the butt and a point is 1.75 oz in, ten to a letter.
A club's head hangs half an inch short of the length; its balance point follows the CG along the
shaft, here from the integrals of `head.py`.
"""

from fractions import Fraction

import head as heads
import hosel
from common import Draw, fixture

SEED = 14213
DIGITS = 14
RELATIVE, ABSOLUTE = 1e-10, 1e-10

INCH = Fraction("0.0254")
OUNCE = Fraction("0.028349523125")


def points(parts):
    """Points above A0 of parts (kg, m from the butt)."""
    moment = sum(Fraction(m) / OUNCE * (Fraction(b) / INCH - 14) for m, b in parts)
    return (moment - Fraction("213.5")) / Fraction("1.75") + 30


def name(p):
    """Letter and tenths, as on a card."""
    tenths = round(p * 10)
    return f"{'ABCDEFG'[tenths // 100]}{Fraction(tenths % 100, 10).__float__():.1f}"


def make():
    draw = Draw(SEED)
    cases = []
    while len(cases) < 100:
        head = heads.random_head(draw)
        reference, setting = heads.random_setting(draw, head), heads.random_setting(draw, head)
        m, cg, _ = heads.at_setting(head, setting)
        _, cg_then, _ = heads.at_setting(head, reference)
        length = draw.between(0.85, 1.2)
        parts = [
            [draw.between(0.04, 0.13), draw.between(0.3, 0.6)],
            [draw.between(0.02, 0.08), draw.between(0.05, 0.2)],
            [draw.between(0.0, 0.02), draw.between(0.0, 1.0)],
        ]
        toward_tip = -(cg - cg_then) @ hosel.shaft(head["lie_deg"])
        hung = [float(m), float(Fraction(length) - INCH / 2) + float(toward_tip)]
        exact = points([*parts, hung])
        if not 0 <= exact < 69:
            continue
        cases.append(
            {
                "head": head,
                "reference": reference,
                "measured": heads.as_case(*heads.at_setting(head, reference)),
                "setting": setting,
                "length_m": length,
                "parts_kg_m": parts,
                "points": float(exact),
                "name": name(exact),
            }
        )
    return fixture(
        "swing_weight", "swing weight of 100 clubs", SEED, ["sympy", "numpy"], DIGITS, cases
    )
