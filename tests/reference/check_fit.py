"""Compare our fits with NumPy and SciPy. Usage: check_fit.py fit_reference.json

Reads inputs and results that the example `fit_reference` wrote, computes the same from the inputs, prints one
line a comparison and exits with 1 when any differs by more than its tolerance. Tolerances are relative and stand
beside each comparison: what double precision and the reference's own stopping rule leave.
"""

import json
import sys
import warnings

import numpy as np
from scipy import integrate, optimize, special, stats

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    from scipy import odr

failures = 0


def compare(what, ours, theirs, tolerance):
    """Largest relative difference of two numbers or arrays against a tolerance."""
    global failures
    ours, theirs = np.atleast_1d(ours).astype(float), np.atleast_1d(theirs).astype(float)
    scale = np.maximum(np.abs(theirs), 1e-300)
    difference = float(np.max(np.abs(ours - theirs) / scale))
    ok = bool(np.all(np.isfinite(ours))) and difference <= tolerance
    failures += not ok
    print(f"{'ok  ' if ok else 'FAIL'} {what}: {difference:.1e} (tolerance {tolerance:.0e})")


def distance_regression(function, x, y, u_x, u_y, start):
    """Parameters, their covariance by the stated uncertainties, and chi-square, by `scipy.odr`."""
    run = odr.ODR(odr.RealData(x, y, sx=u_x, sy=u_y), odr.Model(function), beta0=start,
                  sstol=1e-15, partol=1e-15, maxit=1000)
    out = run.run()
    return out.beta, out.cov_beta, out.sum_square


def line(b, x):
    return b[0] + b[1] * x


def check_york(cases):
    for case in cases:
        x, y, u_x, u_y, r = (np.array(case[k]) for k in ("x", "y", "u_x", "u_y", "r"))
        name = f"york r={case['r']}"

        def chi_square(slope):
            w = 1 / (u_y**2 + slope**2 * u_x**2 - 2 * slope * r * u_x * u_y)
            a = np.sum(w * (y - slope * x)) / np.sum(w)
            return np.sum(w * (y - a - slope * x) ** 2), a

        best = optimize.minimize_scalar(lambda b: chi_square(b)[0], bracket=(-0.6, -0.4), tol=1e-12)
        # A minimiser without derivatives finds the place to half the digits of the value.
        compare(f"{name} slope by minimising", case["slope"], best.x, 1e-7)
        compare(f"{name} intercept by minimising", case["intercept"], chi_square(best.x)[1], 1e-7)
        compare(f"{name} chi-square by minimising", case["chi_square"], best.fun, 1e-12)
        if case["r"] == 0.0:
            b, cov, chi = distance_regression(line, x, y, u_x, u_y, [5.0, -0.5])
            compare(f"{name} odr", [case["intercept"], case["slope"]], b, 1e-7)
            compare(f"{name} odr chi-square", case["chi_square"], chi, 1e-9)
            ours = [case["u_intercept"], case["u_slope"], case["cov"]]
            compare(f"{name} odr uncertainties", ours,
                    [cov[0, 0] ** 0.5, cov[1, 1] ** 0.5, cov[0, 1]], 1e-6)


def flat(matrix):
    return [matrix[0][0], matrix[1][1], matrix[0][1]]


def by_odr(function, x, y, u_x, u_y, start, prior_dof):
    """Extra variance on the flow-like coordinate by root finding, then the fit with it.

    `function` takes the logarithm of the exact-looking coordinate that `x` holds.
    """
    dof = len(x) - 2
    along = "y" if function is line else "x"

    def fit(extra):
        sx, sy = (u_x, np.sqrt(u_y**2 + extra)) if along == "y" else (np.sqrt(u_x**2 + extra), u_y)
        return distance_regression(function, x, y, sx, sy, start)

    stated = fit(0.0)[2]
    extra = 0.0
    if stated > dof:
        extra = optimize.brentq(lambda t: fit(t)[2] - dof, 0.0, 0.1, xtol=1e-16, rtol=1e-12)
    b, cov, chi = fit(extra)
    believed = prior_dof * min(1.0, stats.chi2.cdf(stated, dof) / 0.05)
    factor = (believed + chi) / (believed + dof)
    return b, cov * factor, extra, factor, stated / dof


def check_curves(cases):
    for i, case in enumerate(cases):
        x, y, u_x, u_y = (np.array(case[k]) for k in ("x", "y", "u_x", "u_y"))
        check_power(f"power law {i}", case, x, y, u_x, u_y)
        check_two_term(f"two terms {i}", case, x, y, u_x, u_y)


def check_power(name, case, x, y, u_x, u_y):
    ours = case["power"]
    lx, ly, sx, sy = np.log(x / case["x_ref"]), np.log(y), u_x / x, u_y / y
    b, cov, extra, factor, reduced = by_odr(line, lx, ly, sx, sy, [0.5, 0.5], case["prior_dof"])
    compare(f"{name} parameters", [ours["ln_y_ref"], ours["n"]], b, 1e-7)
    compare(f"{name} covariance", ours["independent"], flat(cov), 2e-4)
    compare(f"{name} reduced chi-square", ours["reduced_chi_square"], reduced, 1e-7)
    compare(f"{name} factor", ours["factor"], factor, 1e-6)
    if extra > 0:
        compare(f"{name} extra variance", ours["between_variance"], extra, 1e-5)
    elif ours["between_variance"] != 0:
        compare(f"{name} extra variance", ours["between_variance"] + 1, 1, 0)

    weighted = np.sqrt(sy**2 + ours["between_variance"])

    def shifted(dx=0.0, dy=0.0):
        return distance_regression(line, np.log((x + dx) / case["x_ref"]), np.log(y + dy), sx,
                                   weighted, b)[0]

    zero, span, slip, k_factor = case["common"]
    sources = [(shifted(dx=zero) - shifted(dx=-zero)) / 2, (shifted(dy=slip) - shifted(dy=-slip)) / 2,
               np.array([b[1] * span, 0]), np.array([k_factor, 0])]
    compare(f"{name} common covariance", ours["common"], flat(sum(np.outer(s, s) for s in sources)), 1e-4)


def check_two_term(name, case, x, y, u_x, u_y):
    ours = case["two"]
    # ln x is the function of ln y here: x and y change places.
    def function(b, t):
        return np.log(b[0] * np.exp(t) + b[1] * np.exp(2 * t))

    lx, ly, sx, sy = np.log(x), np.log(y), u_x / x, u_y / y
    start = [ours["a"] * 1.3, ours["b"] * 0.8]
    b, cov, extra, factor, reduced = by_odr(function, ly, lx, sy, sx, start, case["prior_dof"])
    compare(f"{name} parameters", [ours["a"], ours["b"]], b, 1e-6)
    # The reference counts curvature by its own differences.
    compare(f"{name} covariance", ours["independent"], flat(cov), 1e-3)
    compare(f"{name} reduced chi-square", ours["reduced_chi_square"], reduced, 1e-7)
    compare(f"{name} factor", ours["factor"], factor, 1e-6)
    if extra > 0:
        compare(f"{name} extra variance", ours["between_variance"], extra, 1e-5)
    weighted = np.sqrt(sy**2 + ours["between_variance"])

    def shifted(dx=0.0, dy=0.0, fx=1.0, fy=1.0):
        return distance_regression(function, np.log((y + dy) * fy), np.log((x + dx) * fx), weighted,
                                   sx, b)[0]

    zero, span, slip, k_factor = case["common"]
    sources = [(shifted(dx=zero) - shifted(dx=-zero)) / 2, (shifted(dy=slip) - shifted(dy=-slip)) / 2,
               (shifted(fx=1 + span) - shifted(fx=1 - span)) / 2,
               (shifted(fy=1 + k_factor) - shifted(fy=1 - k_factor)) / 2]
    compare(f"{name} common covariance", ours["common"], flat(sum(np.outer(s, s) for s in sources)), 1e-3)


def check_moderate(cases):
    for i, case in enumerate(cases):
        v, d = np.array(case["variances"]), np.array(case["dofs"])
        e = np.log(v) - special.digamma(d / 2) + np.log(d / 2)
        excess = e.var(ddof=1) - special.polygamma(1, d / 2).mean()
        if excess > 0:
            half = np.exp(optimize.brentq(lambda t: special.polygamma(1, np.exp(t)) - excess, -20, 25))
            prior = np.exp(e.mean() + special.digamma(half) - np.log(half))
            expected = (2 * half * prior + d * v) / (2 * half + d)
        else:
            expected = np.full_like(v, np.exp(e.mean()))
        compare(f"moderated variances {i}", case["moderated"], expected, 1e-9)


class Ordinal:
    """Cumulative-logit likelihood straight from its definition."""

    def __init__(self, case):
        self.x, category = np.array(case["x"]), np.array(case["category"])
        self.names = np.unique(category)
        self.category = np.searchsorted(self.names, category)
        self.median, self.sd_ln = case["belief"]

    def direct(self, theta, s, gaps):
        cuts = np.concatenate([[np.inf], [theta], theta - np.cumsum(gaps), [-np.inf]])
        above = special.expit((cuts[self.category] - self.x) / s)
        below = special.expit((cuts[self.category + 1] - self.x) / s)
        return np.sum(np.log(np.maximum(above - below, 1e-300)))

    def best(self, theta, s):
        n_gaps = len(self.names) - 2
        if n_gaps == 0:
            return self.direct(theta, s, np.array([]))
        runs = [optimize.minimize(lambda g: -self.direct(theta, s, np.exp(g)), np.full(n_gaps, np.log(start * s)),
                                  method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000})
                for start in (0.3, 1.0, 4.0)]
        return -min(r.fun for r in runs)

    def scale(self, z):
        return self.median * np.exp(self.sd_ln * z)

    def profile(self, theta):
        nodes = np.linspace(-3, 6, 46)
        values = [self.best(theta, self.scale(z)) - z * z / 2 for z in nodes]
        peak = nodes[int(np.argmax(values))]
        run = optimize.minimize_scalar(lambda z: -(self.best(theta, self.scale(z)) - z * z / 2),
                                       bounds=(peak - 0.3, peak + 0.3), method="bounded",
                                       options={"xatol": 1e-9})
        return -run.fun

    def averaged(self, theta):
        def integrand(z):
            return np.exp(self.best(theta, self.scale(z)) - z * z / 2)

        return integrate.quad(integrand, -6, 9, epsabs=0, epsrel=1e-8, limit=200)[0]


def check_logit(cases):
    for i, case in enumerate(cases):
        model = Ordinal(case)
        for theta, s, value in case["log_likelihood"]:
            compare(f"logit {i} likelihood at {theta}, {s}", value, model.best(theta, s), 1e-6)
        for theta, value in case["profile"]:
            compare(f"logit {i} profile at {theta}", value, model.profile(theta), 1e-6)
        # Nested minimising is slow: the averaged profile is checked with two categories.
        if len(model.names) == 2:
            check_averaged(f"logit {i}", case, model)


def check_averaged(name, case, model):
    span = case["high"] - case["low"]
    grid = np.linspace(case["low"] - 1.5 * span, case["high"] + 1.5 * span, 1201)
    density = np.array([model.averaged(t) for t in grid])
    mass = integrate.cumulative_trapezoid(density, grid, initial=0.0)
    mass /= mass[-1]
    median = np.interp(0.5, mass, grid)
    mean = integrate.trapezoid(density * grid, grid) / integrate.trapezoid(density, grid)
    sd = np.sqrt(integrate.trapezoid(density * (grid - mean) ** 2, grid) / integrate.trapezoid(density, grid))
    inside = np.interp(case["high"], grid, mass) - np.interp(case["low"], grid, mass)
    ends = np.interp([case["low"], case["high"]], grid, density)
    # Relative to the interval's own width; ours is summed on some hundred points.
    compare(f"{name} median", (case["median"] - median) / span + 1, 1, 2e-3)
    compare(f"{name} standard deviation", case["sd"], sd, 5e-3)
    compare(f"{name} mass inside", inside, 0.95, 2e-3)
    compare(f"{name} equal density at both ends", ends[0] / density.max() + 1, ends[1] / density.max() + 1, 1e-2)


def check_monotone(case):
    for direction in ("increasing", "decreasing"):
        theirs = optimize.isotonic_regression(case["y"], weights=case["w"], increasing=direction == "increasing").x
        compare(f"monotone {direction}", case[direction], theirs, 1e-14)


def check_lack_of_fit(case):
    cluster, value = np.array(case["cluster"]), np.array(case["value"])
    w = 1 + 0.5 * value
    means = np.array([np.average(value[cluster == c], weights=w[cluster == c]) for c in range(cluster.max() + 1)])
    n, k = len(value), len(means)
    lack = np.sum(w * means[cluster] ** 2) / (k - 2)
    pure = np.sum(w * (value - means[cluster]) ** 2) / (n - k)
    compare("lack of fit F", case["f"], lack / pure, 1e-12)
    compare("lack of fit probability", case["p"], stats.f.sf(lack / pure, k - 2, n - k), 1e-9)
    compare("lack of fit freedom", case["dof"], [k - 2, n - k], 0)


def check_rest(data):
    for dof, factor in data["coverage_factors"]:
        compare(f"coverage factor for {dof:g}", factor, stats.t.ppf(0.975, dof), 1e-8)
    m = data["moments"]
    v = np.array(m["values"])
    d = v - v.mean()
    compare("moments", [m["mean"], m["sd"], m["lag_1"]],
            [v.mean(), v.std(ddof=1), np.sum(d[1:] * d[:-1]) / np.sum(d * d)], 1e-12)


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        data = json.load(file)
    check_york(data["york"])
    check_curves(data["curves"])
    check_moderate(data["moderate"])
    check_logit(data["logit"])
    check_monotone(data["monotone"])
    check_lack_of_fit(data["lack_of_fit"])
    check_rest(data)
    print(f"{failures} comparisons failed" if failures else "all comparisons hold")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
