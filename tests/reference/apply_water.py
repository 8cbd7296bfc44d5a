"""Density and viscosity of water at atmospheric pressure: IAPWS-95 and IAPWS 2008 by iapws."""

from iapws import IAPWS95

from apply_values import finish, settle

ROWS = []
for celsius in (1, 4, 10, 15, 20, 25, 30, 40):
    water = IAPWS95(T=273.15 + celsius, P=0.101325)
    ROWS.append([float(celsius), float(water.rho), float(water.mu)])

finish(
    settle(
        "reference_water.csv",
        ["Water at 0.101325 MPa by the library iapws 1.5.5 (IAPWS-95, IAPWS 2008 viscosity)."],
        ["temperature_c", "density_kg_per_m3", "dynamic_viscosity_pa_s"],
        ROWS,
    )
)
