"""The partially pooled regression, by three roads that share no code with the library.

The model is that of the correction module's documentation: for session j of player p with head h

    y_j = a_ph + x_j . (beta + b_p + c_h + d_ph) + v_d + u_j + e_j.

`dense`      Bayes' rule for jointly normal numbers, written down in full: the session means have
             the covariance X P X' + N, and coefficients are conditioned on them. For given
             components, with and without last season's posterior as prior; each session is also
             left out by computing everything again without it.
`estimated`  The components as the mode of their marginal posterior: the likelihood of all session
             means with the coefficients integrated out, times the weak priors of the components,
             by SciPy. The library finds the same by Newton steps.
`mixed`      statsmodels' MixedLM by restricted likelihood, on data that it can express.
`ridge`      scikit-learn's Ridge, for a case that is nothing but a ridge.
"""

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.stats import norm
from sklearn.linear_model import Ridge
from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

from common import Draw, data, fixture, short

SEED = 19829
DIGITS = 13
RELATIVE, ABSOLUTE = 1e-8, 1e-9
# Estimates are as good as the search for them.
SEARCHED = {".estimated": 1e-4, ".mixed": 1e-4}

RESPONSES = ["launch_angle_deg", "launch_direction_deg", "spin_axis_deg", "spin_rate_rpm", "speed_ratio"]
FEATURES = ["cg_toe_mm", "cg_back_mm", "cg_up_mm", "mass_g", "loft_deg", "lie_deg", "face_deg"]

# What is believed before any data, for each response: spread of an intercept, of a day, of a
# session; the factors by which players and heads, and a player on one head, differ; and the weight
# of these guesses.
INTERCEPT_SD = [20.0, 10.0, 40.0, 6000.0, 1.0]
VISIT_SD = [0.4, 0.5, 1.5, 120.0, 0.008]
SESSION_SD = [0.2, 0.25, 0.7, 60.0, 0.004]
GROUP_FACTOR = 0.7
BUILD_FACTOR = 0.35
WEIGHT = 4.0


def scales():
    """Prior spread of an effect: one row for each response."""
    table = data("priors.toml")["response"]
    return [[table[f][r] for f in FEATURES] for r in RESPONSES]


SCALES = scales()


# --- made-up sessions -----------------------------------------------------------------------------


def sessions(draw, players, heads, visits, per_visit, levers, components, prefix="s"):
    """Session summaries in the JSON form of the library, from random effects."""
    effects = {}

    def effect(r, name, factor):
        key = (r, name)
        if key not in effects:
            effects[key] = np.array([draw.normal(0, s * factor) for s in SCALES[r]])
        return effects[key]

    base, out = {}, []
    for day in range(visits):
        player, head = draw.one_of(players), draw.one_of(heads)
        date = f"20{20 + day // 300:02d}-{1 + day // 28 % 12:02d}-{1 + day % 28:02d}"
        visit = [draw.normal(0, c["visit_sd"]) for c in components]
        for k in range(draw.integer(*per_visit)):
            x = [0.0] * 7
            for f in levers:
                x[f] = 0.0 if draw.chance(0.25) else draw.between(-4, 4, 4)
            count, mean, variance = [], [], []
            for r, c in enumerate(components):
                if (r, player, head) not in base:
                    base[r, player, head] = draw.normal([12, 0, 0, 3000, 1.4][r], INTERCEPT_SD[r] / 6)
                n = draw.between(4, 15, 4)
                if draw.chance(0.05):
                    n = 0.0
                slope = effect(r, "all", 1.0) + effect(r, player, c["player_factor"]) + effect(r, head, c["head_factor"])
                slope = slope + effect(r, (player, head), c["build_factor"])
                slope = slope + effect(r, (player, head), c["build_factor"])
                noise = draw.normal(0, c["session_sd"])
                noise += draw.normal(0, c["shot_sd"]) / np.sqrt(n) if n else 0.0
                count.append(n)
                mean.append(short(base[r, player, head] + slope @ np.array(x) + visit[r] + noise, 10))
                variance.append(short(c["shot_sd"] ** 2 * draw.between(0.5, 1.5), 8))
            out.append(
                {
                    "session": f"{prefix}{day:03d}-{k}",
                    "date": date,
                    "player": player,
                    "head": head,
                    "features": x,
                    "shots": 15,
                    "count": count,
                    "mean": mean,
                    "variance": variance,
                }
            )
    return out


# --- the model written down in full ---------------------------------------------------------------


def terms_of(rows, more=()):
    """The coefficients that rows speak of, as the library names them."""
    found = {}
    for s in rows:
        for f, name in enumerate(FEATURES):
            if s["features"][f] != 0.0:
                found["shared", None, name] = None
                found["player", s["player"], name] = None
                found["head", s["head"], name] = None
                found["build", (s["player"], s["head"]), name] = None
        found["intercept", s["player"], s["head"]] = None
    found.update(dict.fromkeys(more))
    return list(found)


def design(rows, terms):
    x = np.zeros((len(rows), len(terms)))
    for j, s in enumerate(rows):
        for i, (kind, who, what) in enumerate(terms):
            if kind == "intercept":
                x[j, i] = (who, what) == (s["player"], s["head"])
            elif kind == "shared" or who == ((s["player"], s["head"]) if kind == "build" else s[kind]):
                x[j, i] = s["features"][FEATURES.index(what)]
    return x


def prior(r, terms, c, last=None, widening=1.0):
    """Mean and covariance of the coefficients before the data."""
    sd = []
    for kind, _, what in terms:
        if kind == "intercept":
            sd.append(INTERCEPT_SD[r])
        else:
            factor = 1.0 if kind == "shared" else c[f"{kind}_factor"]
            sd.append(SCALES[r][FEATURES.index(what)] * factor)
    mean, cov = np.zeros(len(terms)), np.diag(np.square(sd))
    if last is not None:
        known = [t for t in last["terms"] if t[0] != "intercept"]
        here, there = [terms.index(t) for t in known], [last["terms"].index(t) for t in known]
        mean[here] = last["mean"][there]
        cov[np.ix_(here, here)] = widening * last["cov"][np.ix_(there, there)]
    return mean, cov


def noise(rows, r, c):
    """Covariance of session means given the coefficients."""
    visit = [(s["date"], s["player"], s["head"]) for s in rows]
    same = np.array([[a == b for b in visit] for a in visit], dtype=float)
    own = [c["session_sd"] ** 2 + c["shot_sd"] ** 2 / s["count"][r] for s in rows]
    return c["visit_sd"] ** 2 * same + np.diag(own)


def condition(x, y, n, mean, cov):
    """Normal coefficients given normal observations."""
    gain = cho_solve(cho_factor(x @ cov @ x.T + n), x @ cov).T
    return mean + gain @ (y - x @ mean), cov - gain @ x @ cov


def posterior(rows, r, c, last=None, widening=1.0):
    rows = [s for s in rows if s["count"][r] > 0]
    terms = terms_of(rows, [t for t in last["terms"] if t[0] != "intercept"] if last else ())
    m0, p0 = prior(r, terms, c, last, widening)
    y = np.array([s["mean"][r] for s in rows])
    mean, cov = condition(design(rows, terms), y, noise(rows, r, c), m0, p0)
    return {"terms": terms, "mean": mean, "cov": cov, "prior_sd": np.sqrt(np.diag(p0))}


def leave_one_out(rows, r, c):
    """Errors of each session predicted from all others, by doing everything again without it."""
    rows = [s for s in rows if s["count"][r] > 0]
    terms = terms_of(rows)
    y, n = np.array([s["mean"][r] for s in rows]), noise(rows, r, c)
    errors = {}
    for name in ("physics", "pooled", "correction"):
        kinds = {"physics": ("intercept",), "pooled": ("intercept", "shared", "head")}.get(name)
        mine = [t for t in terms if kinds is None or t[0] in kinds]
        x = design(rows, mine)
        m0, p0 = prior(r, mine, c)
        all_cov = x @ p0 @ x.T + n
        out = []
        for j in range(len(rows)):
            rest = np.arange(len(rows)) != j
            a = np.linalg.solve(all_cov[np.ix_(rest, rest)], all_cov[rest, j])
            error = y[j] - x[j] @ m0 - a @ (y[rest] - x[rest] @ m0)
            out.append((error, np.sqrt(all_cov[j, j] - a @ all_cov[rest, j])))
        errors[name] = np.array(out)
    pair = [(s["player"], s["head"]) for s in rows]
    judged = np.array([pair.count(p) > 1 for p in pair])
    visit = np.array([f"{s['date']} {s['player']} {s['head']}" for s in rows])[judged]

    def mean_se(values):
        """Mean, and its standard error with the sessions of a visit as one observation."""
        mean, sums = values.mean(), [(values[visit == v] - values.mean()).sum() for v in np.unique(visit)]
        return mean, np.sqrt(np.square(sums).sum() * len(sums) / (len(sums) - 1)) / len(values)

    out = {"sessions": int(judged.sum())}
    for name, found in errors.items():
        error, sd = found[judged].T
        square, square_se = mean_se(error**2)
        log_score, log_score_se = mean_se(norm.logpdf(error, scale=sd))
        inside = [mean_se((np.abs(error) <= norm.ppf(0.5 + share / 2) * sd) * 1.0) for share in (0.5, 0.8, 0.95)]
        out[name] = {
            "rmse": np.sqrt(square),
            "rmse_se": square_se / (2 * np.sqrt(square)),
            "log_score": log_score,
            "log_score_se": log_score_se,
            "coverage": [i[0] for i in inside],
            "coverage_se": [i[1] for i in inside],
        }
    squares = {name: found[judged][:, 0] ** 2 for name, found in errors.items()}
    out["gain"], out["gain_se"] = mean_se(squares["physics"] - squares["correction"])
    out["gain_over_pooled"], out["gain_over_pooled_se"] = mean_se(squares["pooled"] - squares["correction"])
    return out


# --- components -----------------------------------------------------------------------------------


def shot_variance(rows, r):
    """Pooled variance from shot to shot, with a guess of four times a day's spread."""
    squares, freedom = WEIGHT * (4 * VISIT_SD[r]) ** 2, WEIGHT
    for s in rows:
        squares += max(s["count"][r] - 1, 0) * s["variance"][r]
        freedom += max(s["count"][r] - 1, 0)
    return squares / freedom


def estimate(rows, r):
    """The components at the mode of their marginal posterior."""
    rows = [s for s in rows if s["count"][r] > 0]
    terms = terms_of(rows)
    x, y = design(rows, terms), np.array([s["mean"][r] for s in rows])
    shot = np.sqrt(shot_variance(rows, r))
    guess = np.array([VISIT_SD[r], SESSION_SD[r], GROUP_FACTOR, GROUP_FACTOR, BUILD_FACTOR])

    def components(log_ratio):
        visit, session, player, head, build = guess * np.exp(log_ratio)
        return {
            "shot_sd": shot,
            "visit_sd": visit,
            "session_sd": session,
            "player_factor": player,
            "head_factor": head,
            "build_factor": build,
        }

    def minus_log(log_ratio):
        c = components(log_ratio)
        _, p0 = prior(r, terms, c)
        factor = cho_factor(x @ p0 @ x.T + noise(rows, r, c), lower=True)
        fit = np.log(np.diag(factor[0])).sum() + 0.5 * y @ cho_solve(factor, y)
        # Each guess as so many observations of its square.
        return fit + 0.5 * WEIGHT * (2 * log_ratio + np.exp(-2 * log_ratio)).sum()

    found = minimize(minus_log, np.zeros(5), method="BFGS", jac="3-point", options={"gtol": 1e-6})
    assert np.abs(found.jac).max() < 1e-4, found.message
    return components(found.x)


# --- what statsmodels and scikit-learn can express ------------------------------------------------


def mixed(draw):
    """Players with a slope each on one lever, days, two sessions a day: MixedLM by REML.

    One head, so that the library is told to leave out what a player on one head adds; as many shots
    in every session; only the loft is moved. What the library adds and
    MixedLM does not have is made small: its prior of the shared slope (one in forty players), and
    the weak priors of its components (true values near the guesses).
    """
    true = [
        {"shot_sd": 4 * VISIT_SD[r], "visit_sd": VISIT_SD[r] * 1.1, "session_sd": SESSION_SD[r] * 0.9}
        for r in range(5)
    ]
    lever, players, days, shots, r = 4, 40, 12, 10.0, 0
    c, rows = true[r], []
    shared = draw.normal(0, SCALES[r][lever])
    for p in range(players):
        slope = shared + draw.normal(0, SCALES[r][lever] * GROUP_FACTOR)
        base = draw.normal(12, 2)
        for day in range(days):
            visit = draw.normal(0, c["visit_sd"])
            for k in range(2):
                x = [0.0] * 7
                x[lever] = draw.between(-4, 4, 4)
                mean = base + slope * x[lever] + visit + draw.normal(0, c["session_sd"])
                mean += draw.normal(0, c["shot_sd"] / np.sqrt(shots))
                rows.append(
                    {
                        "session": f"m{p:02d}-{day:02d}-{k}",
                        "date": f"2021-{1 + day:02d}-15",
                        "player": f"player {p:02d}",
                        "head": "head",
                        "features": x,
                        "shots": int(shots),
                        "count": [shots, 0.0, 0.0, 0.0, 0.0],
                        "mean": [short(mean, 10), 0.0, 0.0, 0.0, 0.0],
                        "variance": [short(c["shot_sd"] ** 2, 10), 1.0, 1.0, 1.0, 1.0],
                    }
                )
    # Numbers only: an intercept for each player and the shared slope are fixed effects, the
    # player's own slope and the day are random.
    n = len(rows)
    who = np.array([int(s["player"][-2:]) for s in rows])
    day = np.array([int(s["date"][5:7]) for s in rows])
    x = np.array([s["features"][lever] for s in rows])
    fixed = np.column_stack([np.eye(players)[who], x])
    y = np.array([s["mean"][0] for s in rows])
    vc_names, vc_mats, vc_cols = ["visit"], [[]], [[]]
    for p in range(players):
        mine = day[who == p]
        vc_mats[0].append((mine[:, None] == np.unique(mine)).astype(float))
        vc_cols[0].append([str(d) for d in np.unique(mine)])
    model = MixedLM(y, fixed, groups=who, exog_re=x[:, None], exog_vc=VCSpec(vc_names, vc_cols, vc_mats))
    found = model.fit(reml=True, method=["bfgs"])
    assert found.converged and n == players * days * 2
    shared_slope = found.fe_params[-1]
    own = [float(np.asarray(found.random_effects[p])[0]) for p in range(players)]
    return {
        "sessions": rows,
        "lever": lever,
        "response": r,
        "slopes": [shared_slope + b for b in own],
        "shared_slope": shared_slope,
        "player_sd": float(np.sqrt(found.cov_re[0, 0])),
        "visit_sd": float(np.sqrt(found.vcomp[0])),
        # Session and shot noise cannot be told apart with as many shots in every session.
        "residual_sd": float(np.sqrt(found.scale)),
    }


def ridge(draw):
    """One player, one head, sessions on days of their own, no visit effect: weighted ridge."""
    components = [
        {
            "shot_sd": 4 * VISIT_SD[r],
            "visit_sd": 0.0,
            "session_sd": SESSION_SD[r],
            "player_factor": 0.5,
            "head_factor": 0.8,
            "build_factor": 0.3,
        }
        for r in range(5)
    ]
    rows = sessions(draw, ["Ida"], ["head"], 40, (1, 1), [0, 3, 4, 5], components, "r")
    answers = []
    for r, c in enumerate(components):
        mine = [s for s in rows if s["count"][r] > 0]
        terms = terms_of(mine)
        _, cov = prior(r, terms, c)
        spread = np.sqrt(np.diag(cov))
        weights = [1 / (c["session_sd"] ** 2 + c["shot_sd"] ** 2 / s["count"][r]) for s in mine]
        machine = Ridge(alpha=1.0, fit_intercept=False, solver="svd")
        machine.fit(design(mine, terms) * spread, [s["mean"][r] for s in mine], sample_weight=weights)
        answers.append({"terms": named(terms), "mean": machine.coef_ * spread})
    return {"sessions": rows, "components": components, "responses": answers}


# --- the fixture ----------------------------------------------------------------------------------


def named(terms):
    """Terms in the JSON form of the library."""
    out = []
    for kind, who, what in terms:
        if kind == "shared":
            out.append({"term": kind, "feature": what})
        elif kind == "intercept":
            out.append({"term": kind, "player": who, "head": what})
        elif kind == "build":
            out.append({"term": kind, "player": who[0], "head": who[1], "feature": what})
        else:
            out.append({"term": kind, kind: who, "feature": what})
    return out


def answer(p, score=None, covariance=False):
    out = {
        "terms": named(p["terms"]),
        "mean": p["mean"],
        "sd": np.sqrt(np.diag(p["cov"])),
        "prior_sd": p["prior_sd"],
    }
    if covariance:
        out["covariance"] = p["cov"]
    if score:
        out["score"] = score
    return out


def drawn_components(draw):
    return [
        {
            "shot_sd": 4 * VISIT_SD[r] * draw.between(0.7, 1.3, 3),
            "visit_sd": VISIT_SD[r] * draw.between(0.5, 2, 3),
            "session_sd": SESSION_SD[r] * draw.between(0.5, 2, 3),
            "player_factor": draw.between(0.3, 1.2, 3),
            "head_factor": draw.between(0.3, 1.2, 3),
            "build_factor": draw.between(0.2, 0.6, 3),
        }
        for r in range(5)
    ]


def make():
    draw = Draw(SEED)
    cases = []
    for k in range(3):
        components = short(drawn_components(draw), 8)
        players, heads = ["Ida", "Joost", "Kai", "Lene"][: 2 + k], ["head A", "head B", "head C"]
        levers = [[0, 3, 4], [0, 1, 2, 3], [0, 2, 4, 5, 6]][k]
        first = sessions(draw, players, heads, 30, (1, 3), levers, components, "a")
        second = sessions(draw, [*players[1:], "Mo"], heads, 15, (1, 3), levers, components, "b")
        widening = [1.0, 1.5, 3.0][k]
        posteriors = [posterior(first, r, c) for r, c in enumerate(components)]
        cases.append(
            {
                "components": components,
                "first": first,
                "first_responses": [
                    answer(p, leave_one_out(first, r, components[r]), covariance=r == k)
                    for r, p in enumerate(posteriors)
                ],
                "second": second,
                "widening": widening,
                "second_responses": [
                    answer(posterior(second, r, c, posteriors[r], widening)) for r, c in enumerate(components)
                ],
            }
        )
    estimated = []
    for k in range(2):
        components = drawn_components(draw)
        rows = sessions(draw, ["Ida", "Joost", "Kai", "Lene"], ["head A", "head B", "head C"], 50, (1, 3), [0, 3, 4], components, "e")
        found = [estimate(rows, r) for r in range(5)]
        estimated.append(
            {
                "sessions": rows,
                "components": found,
                "responses": [answer(posterior(rows, r, c)) for r, c in enumerate(found)],
            }
        )
    return fixture(
        "regression",
        "partially pooled regression: given components, estimated ones, a mixed model, a ridge",
        SEED,
        ["scipy", "statsmodels", "scikit-learn", "numpy"],
        DIGITS,
        cases,
        estimated=estimated,
        mixed=mixed(draw),
        ridge=ridge(draw),
    )
