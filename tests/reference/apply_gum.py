"""GUM H.2 by the package uncertainties and H.3 by scipy, against the printed values in ../checks."""

import csv

import numpy
from scipy import optimize
from uncertainties import correlated_values
from uncertainties.umath import cos, sin

from apply_values import CHECKS, finish


def read(name):
    with (CHECKS / name).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    printed = {r["name"]: float(r["value"]) for r in rows if r["kind"] == "printed"}
    return [r for r in rows if r["kind"] == "data"], printed


faults = []


def check(name, found, printed, tolerance):
    if abs(found - printed) > tolerance:
        faults.append(f"{name}: computed {found}, printed {printed}")


data, printed = read("gum_h2.csv")
columns = numpy.array([[float(r[c]) for r in data] for c in ("v_v", "i_a", "phi_rad")])
mean, covariance = columns.mean(axis=1), numpy.cov(columns) / columns.shape[1]
v, i, phi = correlated_values(mean, covariance)
for name, value in (
    ("resistance_ohm", v / i * cos(phi)),
    ("reactance_ohm", v / i * sin(phi)),
    ("impedance_ohm", v / i),
):
    check(name, value.nominal_value, printed[name], 5e-4)
    check("u_" + name, value.std_dev, printed["u_" + name], 1e-3)

data, printed = read("gum_h3.csv")
t = numpy.array([float(r["t_c"]) for r in data]) - 20.0
b = numpy.array([float(r["b_c"]) for r in data])
(at_t0, slope), covariance = optimize.curve_fit(lambda x, a, b: a + b * x, t, b)
check("at_t0", at_t0, printed["at_t0"], 5e-5)
check("slope", slope, printed["slope"], 5e-6)
check("u_at_t0", covariance[0, 0] ** 0.5, printed["u_at_t0"], 5e-5)
check("u_slope", covariance[1, 1] ** 0.5, printed["u_slope"], 5e-6)

finish(faults)
