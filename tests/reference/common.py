"""What the scripts share: units, rounding, drawing of numbers, and the shape of a fixture."""

import importlib.metadata
import math
import platform
import tomllib
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
FIXTURES = ROOT / "tests" / "data" / "reference"

DEG = math.pi / 180.0
RPM = math.pi / 30.0
MM = 1e-3
GRAM = 1e-3
G_CM2 = 1e-7


def data(name):
    """One of the project's own data files, as a dictionary."""
    return tomllib.loads((ROOT / "data" / name).read_text(encoding="utf-8"))


def short(value, digits=12):
    """A number, or numbers in lists and dictionaries, with so many significant digits."""
    if isinstance(value, dict):
        return {k: short(v, digits) for k, v in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [short(v, digits) for v in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        if not math.isfinite(value):
            raise ValueError("a fixture holds finite numbers only")
        return float(f"{value:.{digits}g}") + 0.0  # no negative zero
    return value


class Draw:
    """Random inputs with few digits, so that the fixture holds exactly what was computed with."""

    def __init__(self, seed):
        self.rng = np.random.default_rng(seed)

    def between(self, low, high, digits=6):
        return short(self.rng.uniform(low, high), digits)

    def normal(self, mean, sd, digits=6):
        return short(self.rng.normal(mean, sd), digits)

    def vector(self, low, high, digits=6):
        return [self.between(low, high, digits) for _ in range(3)]

    def one_of(self, choices):
        return choices[int(self.rng.integers(len(choices)))]

    def integer(self, low, high):
        """Both ends included."""
        return int(self.rng.integers(low, high + 1))

    def chance(self, p):
        return bool(self.rng.uniform() < p)


def fixture(script, what, seed, libraries, digits, cases, **more):
    """A fixture: where it comes from, and its cases."""
    return {
        "provenance": {
            "script": f"tests/reference/{script}.py",
            "what": what,
            "seed": seed,
            "python": platform.python_version(),
            "libraries": {name: importlib.metadata.version(name) for name in libraries},
            "significant_digits": digits,
        },
        **short(more, digits),
        "cases": short(cases, digits),
    }
