"""How long scikit-learn's ridge takes for the rows of a season, to set the library's fit against.

    TRIMTAB_ROWS=target/rows.json cargo bench --bench refit -- --test
    target/reference-venv/bin/python tests/reference/ridge_time.py target/rows.json

The rows are the sessions that the benchmark "fit of 35,000 sessions, 6 heads a player" fits. The
ridge has the same columns (shared, player, head, build and intercepts, in units of their prior
standard deviations) and weights at fixed variance components, as a sparse matrix, by its fastest
solver for that; the noise of a day is left out, which a ridge cannot express. It finds the means
of five responses. The library finds besides: components, all covariances, three held-out scores.
"""

import json
import sys
import time

import numpy as np
from scipy.sparse import coo_matrix
from sklearn.linear_model import Ridge

from regression import BUILD_FACTOR, FEATURES, GROUP_FACTOR, INTERCEPT_SD, SCALES, SESSION_SD, VISIT_SD

FACTORS = {"shared": 1.0, "player": GROUP_FACTOR, "head": GROUP_FACTOR, "build": BUILD_FACTOR}


def design(rows, r):
    number, entries = {}, ([], [], [])
    for j, s in enumerate(rows):
        for f in range(len(FEATURES)):
            if s["features"][f] == 0.0:
                continue
            names = {"shared": (), "player": (s["player"],), "head": (s["head"],), "build": (s["player"], s["head"])}
            for kind, who in names.items():
                column = number.setdefault((kind, who, f), len(number))
                value = s["features"][f] * SCALES[r][f] * FACTORS[kind]
                for part, v in zip(entries, (j, column, value)):
                    part.append(v)
        column = number.setdefault(("intercept", s["player"], s["head"]), len(number))
        for part, v in zip(entries, (j, column, INTERCEPT_SD[r])):
            part.append(v)
    j, column, value = entries
    return coo_matrix((value, (j, column)), shape=(len(rows), len(number))).tocsr()


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        rows = json.load(file)
    wall, cpu, columns = 0.0, 0.0, 0
    for r in range(5):
        x, y = design(rows, r), np.array([s["mean"][r] for s in rows])
        noise = np.array([SESSION_SD[r] ** 2 + 16 * VISIT_SD[r] ** 2 / s["count"][r] for s in rows])
        columns = x.shape[1]
        begun = time.perf_counter(), time.process_time()
        Ridge(alpha=1.0, fit_intercept=False, solver="sparse_cg", tol=1e-8).fit(x, y, sample_weight=1 / noise)
        wall += time.perf_counter() - begun[0]
        cpu += time.process_time() - begun[1]
    print(f"{len(rows)} rows, {columns} columns, 5 responses: {wall:.2f} s, {cpu:.2f} s of processor")


if __name__ == "__main__":
    main()
