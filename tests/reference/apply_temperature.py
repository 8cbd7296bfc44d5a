"""How flow answers to pressure, viscosity, diameter and density in two devices of other people's
making: an ISO 5167 orifice with its discharge coefficient after Reader-Harris and Gallagher, and a
laminar pipe whose length is in proportion to its bore, both by fluids; and the laminar flow of a
power-law liquid by integrating its velocity profile with scipy.
"""

import math

from fluids.flow_meter import differential_pressure_meter_solver
from fluids.friction import friction_laminar
from scipy.integrate import quad

from apply_values import finish, settle


def orifice(p, mu, d, rho):
    """Volume flow of an orifice of half the pipe's diameter; high static pressure, so no expansion."""
    mass = differential_pressure_meter_solver(
        D=2 * d, D2=d, rho=rho, mu=mu, k=1.4, P1=1e10, P2=1e10 - p,
        meter_type="ISO 5167 orifice", taps="corner",
    )
    return mass / rho


def pipe(p, mu, d, rho):
    """Laminar pipe of ten diameters: solve Darcy-Weisbach with f = 64 / Re of fluids."""
    length = 10 * d
    low, high = 1e-12, 1e3
    for _ in range(200):
        v = math.sqrt(low * high)
        reynolds = rho * v * d / mu
        loss = friction_laminar(reynolds) * length / d * rho * v * v / 2
        low, high = (v, high) if loss < p else (low, v)
    return math.pi / 4 * d * d * math.sqrt(low * high)


def power_law_pipe(p, consistency, d, m):
    """Volume flow of a power-law liquid in a pipe of ten diameters, by its velocity profile."""
    radius, length = d / 2, 10 * d

    def speed(r):
        shear_rate = lambda s: (p * s / (2 * length) / consistency) ** (1 / m)
        return quad(shear_rate, r, radius, epsabs=0, epsrel=1e-12)[0]

    return quad(lambda r: 2 * math.pi * r * speed(r), 0, radius, epsabs=0, epsrel=1e-11)[0]


def slope(f, x, step=1e-3):
    return (math.log(f(x * math.exp(step))) - math.log(f(x * math.exp(-step)))) / (2 * step)


rows = []
for p, mu, d, rho in ((2e4, 1e-3, 0.06, 1000.0), (5e3, 5e-3, 0.06, 1200.0), (1e5, 2e-2, 0.1, 900.0)):
    rows.append(
        ["orifice", 1.0]
        + [
            slope(lambda x: orifice(x, mu, d, rho), p),
            slope(lambda x: orifice(p, x, d, rho), mu),
            slope(lambda x: orifice(p, mu, x, rho), d),
            slope(lambda x: orifice(p, mu, d, x), rho),
        ]
    )
rows.append(
    ["laminar pipe", 1.0]
    + [
        slope(lambda x: pipe(x, 0.5, 1e-3, 1200.0), 1e6),
        slope(lambda x: pipe(1e6, x, 1e-3, 1200.0), 0.5),
        slope(lambda x: pipe(1e6, 0.5, x, 1200.0), 1e-3),
        slope(lambda x: pipe(1e6, 0.5, 1e-3, x), 1200.0),
    ]
)
for m in (0.5, 0.8):
    rows.append(
        ["laminar power-law pipe", m]
        + [
            slope(lambda x: power_law_pipe(x, 0.5, 1e-3, m), 1e6),
            slope(lambda x: power_law_pipe(1e6, x, 1e-3, m), 0.5),
            slope(lambda x: power_law_pipe(1e6, 0.5, x, m), 1e-3),
            0.0,
        ]
    )

faults = settle(
    "reference_similarity.csv",
    [
        "Logarithmic derivatives of volume flow: fluids 1.3.1 (ISO 5167 orifice, laminar friction) and",
        "scipy 1.17.1 (integrated velocity profile of a power-law liquid). shear_index 1: Newtonian.",
    ],
    ["device", "shear_index", "to_pressure", "to_viscosity", "to_diameter", "to_density"],
    rows,
    relative=1e-4,
)

# Pressure loss of a hose: laminar power-law by its velocity profile, Newtonian by fluids.
hose = []
for m, flow, bore, length in ((1.0, 1e-5, 4.8e-3, 3.0), (0.7, 1e-5, 4.8e-3, 3.0), (0.5, 3e-5, 6.4e-3, 15.0)):
    consistency = 0.36 * 100.0 ** (1 - m)

    def flow_at(p):
        radius = bore / 2
        speed = lambda r: quad(
            lambda s: (p * s / (2 * length) / consistency) ** (1 / m), r, radius, epsrel=1e-11
        )[0]
        return quad(lambda r: 2 * math.pi * r * speed(r), 0, radius, epsrel=1e-11)[0]

    low, high = 1.0, 1e8
    for _ in range(100):
        p = math.sqrt(low * high)
        low, high = (p, high) if flow_at(p) < flow else (low, p)
    hose.append([m, 0.36, 100.0, 1200.0, flow, bore, length, math.sqrt(low * high)])

from fluids.friction import Blasius  # noqa: E402

for flow in (5e-5, 1e-4):
    bore, length, rho, mu = 6.4e-3, 10.0, 998.2, 1.0016e-3
    v = flow / (math.pi / 4 * bore * bore)
    loss = Blasius(rho * v * bore / mu) * length / bore * rho * v * v / 2
    hose.append([1.0, mu, 100.0, rho, flow, bore, length, loss])

faults += settle(
    "reference_hose.csv",
    [
        "Pressure loss in a straight hose: laminar power-law liquid by integrating its velocity profile",
        "(scipy 1.17.1); the last two turbulent water by the Blasius friction factor of fluids 1.3.1.",
    ],
    [
        "shear_index", "viscosity_pa_s", "shear_rate_per_s", "density_kg_per_m3", "flow_m3_per_s",
        "bore_m", "length_m", "loss_pa",
    ],
    hose,
    relative=1e-7,
)
finish(faults)
