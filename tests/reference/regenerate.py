"""Writes the fixtures in tests/data/reference, or with --check says whether they have moved.

    python regenerate.py              write all
    python regenerate.py --check      compute all again and compare; exit code 1 if any moved
    python regenerate.py air flight   only these, with or without --check
"""

import argparse
import concurrent.futures
import importlib
import json
import math
import multiprocessing
import os
import sys
import time

# One thread each for the linear algebra: sums in the same order on every machine.
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"
sys.dont_write_bytecode = True

from common import FIXTURES  # noqa: E402  (the threads are set first)

# Longest first.
SUBJECTS = ["flight", "robust", "regression", "mass", "impact", "hosel", "swing_weight", "air"]


def text(fixture):
    """JSON with a line for each case, so that a change can be seen in a diff."""
    parts = []
    for key, value in fixture.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            lines = ",\n".join(json.dumps(v) for v in value)
            parts.append(f"{json.dumps(key)}: [\n{lines}\n]")
        else:
            parts.append(f"{json.dumps(key)}: {json.dumps(value)}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def moved(old, new, relative, absolute, searched, where=""):
    """Places at which two fixtures differ by more than they may, and the worst difference."""
    relative = searched.get(where, relative)
    if where == ".provenance.python":
        return [], 0.0  # told, but not held
    numbers = [isinstance(v, (int, float)) and not isinstance(v, bool) for v in (old, new)]
    if all(numbers):
        gap = abs(old - new)
        limit = absolute + relative * max(abs(old), abs(new))
        fine = math.isfinite(gap) and gap <= limit
        return ([] if fine else [f"{where}: {old} was, {new} is"]), gap / limit if limit else gap
    if isinstance(old, dict) and isinstance(new, dict) and list(old) == list(new):
        parts = [moved(old[k], new[k], relative, absolute, searched, f"{where}.{k}") for k in old]
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        parts = [moved(a, b, relative, absolute, searched, f"{where}[{i}]") for i, (a, b) in enumerate(zip(old, new))]
    elif type(old) is type(new) and not isinstance(old, (dict, list)):
        return ([] if old == new else [f"{where}: {old!r} was, {new!r} is"]), 0.0
    else:
        return [f"{where}: another shape"], 0.0
    return [p for found, _ in parts for p in found], max((w for _, w in parts), default=0.0)


def compute(subject):
    begun = time.perf_counter()
    module = importlib.import_module(subject)
    fixture = json.loads(text(module.make()))
    searched = getattr(module, "SEARCHED", {})
    return subject, fixture, (module.RELATIVE, module.ABSOLUTE, searched), time.perf_counter() - begun


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("subjects", nargs="*", metavar="subject", help=", ".join(SUBJECTS))
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    options = parser.parse_args()
    unknown = set(options.subjects) - set(SUBJECTS)
    if unknown:
        parser.error(f"no such subject: {', '.join(sorted(unknown))}")
    chosen = [s for s in SUBJECTS if not options.subjects or s in options.subjects]
    bad = 0
    FIXTURES.mkdir(parents=True, exist_ok=True)
    workers = multiprocessing.get_context("spawn")
    with concurrent.futures.ProcessPoolExecutor(2, mp_context=workers) as pool:
        for subject, fixture, allowed, seconds in pool.map(compute, chosen):
            file = FIXTURES / f"{subject}.json"
            if not options.check:
                file.write_text(text(fixture), encoding="utf-8")
                print(f"{subject}: written in {seconds:.1f} s")
                continue
            stored = json.loads(file.read_text(encoding="utf-8")) if file.exists() else None
            places, worst = moved(stored, fixture, *allowed)
            for place in places[:10]:
                print(f"{subject}{place}")
            verdict = f"MOVED in {len(places)} places" if places else "unmoved"
            print(f"{subject}: {verdict}; worst {worst:.1e} of what is allowed, {seconds:.1f} s", flush=True)
            bad += bool(places)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
