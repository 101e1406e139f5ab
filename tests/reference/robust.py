"""Robust location and scatter: a multivariate t, maximised by SciPy; MAD by statsmodels.

The estimate is the mode of

    -(n + k - 1)/2 log|S| - (nu + p)/2 sum log(1 + c d_i'S^-1 d_i / nu) - k/2 tr(P S^-1)

over centre and scatter S, with nu = 4 degrees of freedom, and a prior scatter P that weighs k = 1
row, for the degree of freedom that the centre takes: the t likelihood with an inverse-Wishart term (Lange, Little, Taylor 1989), where c makes S
the covariance of normal rows. c is found by quadrature; rows beyond 4.5 MAD of the median of any
column (at least the usual spread), unless they are most rows, take no part. The mode is found by a
quasi-Newton method on the centre and the Cholesky factor, polished by a root finder on the
gradient.
"""

import functools

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq, minimize, root
from scipy.stats import chi2
from statsmodels.robust.scale import mad

from common import Draw, fixture

SEED = 18818
DIGITS = 12
RELATIVE, ABSOLUTE = 1e-8, 1e-9

NU, PRIOR_ROWS = 4.0, 1.0


GROSS = 4.5


@functools.cache
def consistency(p):
    """c at which the weights of normal rows in p columns reproduce their covariance."""

    def excess(c):
        def part(q):
            return (NU + p) * c * q / (NU + c * q) * chi2.pdf(q, p)

        # The density has a pole at zero for one column, but the weight is zero there.
        pieces = [(0.0, 1.0), (1.0, 20.0), (20.0, 400.0)]
        return sum(quad(part, a, b, epsabs=1e-13, epsrel=1e-13)[0] for a, b in pieces) - p

    return brentq(excess, 1.0, 2.0, xtol=1e-14)


def gross(rows, usual):
    """Rows that are far out in some column, by MAD."""
    far = np.zeros(len(rows), dtype=bool)
    for column, floor in zip(rows.T, usual):
        spread = max(mad(column), floor)
        far |= np.abs(column - np.median(column)) > GROSS * spread
    return far if 2 * far.sum() <= len(rows) else np.zeros(len(rows), dtype=bool)


def unpack(x, p):
    factor = np.zeros((p, p))
    factor[np.tril_indices(p)] = x[p:]
    factor[np.diag_indices(p)] = np.exp(np.diag(factor))
    return x[:p], factor


def objective(x, rows, prior):
    """Minus the log posterior, and its gradient."""
    n, p = rows.shape
    c = consistency(p)
    centre, factor = unpack(x, p)
    inverse = np.linalg.inv(factor)
    white = (rows - centre) @ inverse.T
    d2 = (white**2).sum(axis=1)
    half_log = np.log(np.diag(factor)).sum()
    whitened_prior = inverse @ prior @ inverse.T
    value = (n + PRIOR_ROWS - 1) * half_log
    value += 0.5 * (NU + p) * np.log1p(c * d2 / NU).sum()
    value += 0.5 * PRIOR_ROWS * np.trace(whitened_prior)
    weight = c * (NU + p) / (NU + c * d2)
    centre_slope = -inverse.T @ (weight[:, None] * white).sum(axis=0)
    spread = (white * weight[:, None]).T @ white + PRIOR_ROWS * whitened_prior
    factor_slope = np.tril(inverse.T @ ((n + PRIOR_ROWS - 1) * np.eye(p) - spread))
    factor_slope[np.diag_indices(p)] *= np.diag(factor)
    return value, np.concatenate([centre_slope, factor_slope[np.tril_indices(p)]])


def fit(rows, excluded, prior_sd):
    """Centre, scatter, weights, effective number of rows. Columns are scaled for the search."""
    scaled = rows / prior_sd
    p = scaled.shape[1]
    counts = ~excluded
    counts[counts] = ~gross(rows[counts], prior_sd)
    kept, prior = scaled[counts], np.eye(p)
    start = np.concatenate([np.median(kept, axis=0), np.zeros(p * (p + 1) // 2)])
    found = minimize(objective, start, args=(kept, prior), jac=True, method="BFGS", options={"gtol": 1e-9})
    polished = root(lambda x: objective(x, kept, prior)[1], found.x, tol=1e-14)
    assert np.abs(objective(polished.x, kept, prior)[1]).max() < 1e-9
    assert np.abs(polished.x - found.x).max() < 1e-3, "the root finder left the mode"
    centre, factor = unpack(polished.x, p)
    white = np.linalg.solve(factor, (scaled - centre).T)
    d2 = (white**2).sum(axis=0)
    weights = np.where(counts, np.minimum((NU + p) / (NU + consistency(p) * d2), 1.0), 0.0)
    scatter = factor @ factor.T * np.outer(prior_sd, prior_sd)
    return {
        "centre": centre * prior_sd,
        "covariance": scatter,
        "weights": weights,
        "distances": d2,
        "effective": weights.sum() ** 2 / (weights**2).sum(),
    }


def make():
    draw = Draw(SEED)
    cases = []
    for i in range(120):
        p = [1, 2, 4][i % 3]
        n = draw.integer(1, 6) if i % 6 == 5 else draw.integer(5, 40)
        prior_sd = [draw.between(0.5, 10) for _ in range(p)]
        mixing = np.array([[draw.normal(0, 1) for _ in range(p)] for _ in range(p)])
        rows, excluded = [], []
        for _ in range(n):
            row = mixing @ np.array([draw.normal(0, 1) for _ in range(p)]) * prior_sd
            if draw.chance(0.1):
                row = row + draw.between(2, 9) * np.array(prior_sd)
            rows.append([float(f"{v:.6g}") for v in row + 3.0])
            excluded.append(draw.chance(0.06))
        if all(excluded):
            excluded[0] = False
        kept = np.array([r for r, out in zip(rows, excluded) if not out])
        known = np.array(excluded)
        cases.append(
            {
                "rows": rows,
                "excluded": excluded,
                "prior_sd": prior_sd,
                "fit": fit(np.array(rows), known, np.array(prior_sd)),
                "mad": [mad(kept[:, c]) for c in range(p)],
                "gross": gross(kept, prior_sd),
            }
        )
    return fixture(
        "robust",
        "robust centre and scatter of 120 samples in 1, 2 and 4 columns; MAD",
        SEED,
        ["scipy", "statsmodels", "numpy"],
        DIGITS,
        cases,
        consistency=[consistency(p) for p in range(1, 7)],
    )
