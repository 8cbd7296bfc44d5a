"""Pipe loss and orifice limits that the simulated rig's hydraulics are held against: by fluids."""

import math

from fluids.flow_meter import C_ISA_1932_nozzle, C_Reader_Harris_Gallagher
from fluids.friction import Blasius, friction_laminar

from apply_values import finish, settle

# Length and bore of the hose, flow, density, dynamic viscosity: thick and thin, slow and fast.
CASES = [
    (7.5, 6.4e-3, 1.0e-5, 1250.0, 0.2),
    (15.0, 4.8e-3, 2.0e-5, 1400.0, 0.6),
    (2.0, 4.8e-3, 2.0e-6, 960.0, 0.03),
    (7.5, 6.4e-3, 4.0e-5, 998.2, 1.0016e-3),
    (10.0, 9.5e-3, 2.0e-4, 998.2, 1.0016e-3),
]
LOSSES = []
for length, bore, flow, density, viscosity in CASES:
    velocity = flow / (math.pi / 4 * bore**2)
    reynolds = density * velocity * bore / viscosity
    friction = friction_laminar(reynolds) if reynolds < 2300 else Blasius(reynolds)
    drop = friction * length / bore * density * velocity**2 / 2
    LOSSES.append([length, bore, flow, density, viscosity, float(reynolds), float(drop)])

# Thin plate and nozzle in a wide pipe (diameter ratio 0.1 and 0.4) at a high Reynolds number.
WATER = {"rho": 998.2, "mu": 1.0016e-3, "m": 998.2}
LIMITS = [
    ["thin_plate", float(C_Reader_Harris_Gallagher(D=0.05, Do=0.005, taps="corner", **WATER))],
    ["nozzle", float(C_ISA_1932_nozzle(D=0.05, Do=0.02, **WATER))],
]

finish(
    settle(
        "reference_pipe_loss.csv",
        [
            "Pressure drop of a smooth pipe by the library fluids 1.3.1: friction_laminar below a",
            "Reynolds number of 2300, Blasius above.",
        ],
        [
            "length_m",
            "bore_m",
            "flow_m3_per_s",
            "density_kg_per_m3",
            "dynamic_viscosity_pa_s",
            "reynolds",
            "pressure_drop_pa",
        ],
        LOSSES,
    )
    + settle(
        "reference_orifice_limits.csv",
        [
            "Discharge coefficients at a high Reynolds number by the library fluids 1.3.1:",
            "ISO 5167-2 thin orifice plate (Reader-Harris/Gallagher), ISO 5167-3 nozzle (ISA 1932).",
        ],
        ["device", "coefficient"],
        LIMITS,
    )
)
