#!/usr/bin/env python3
"""Writes a season of recordings for `tipcurve compare --season`: tests/season.py FOLDER COUNT

Each is a trial of ten minutes in the plain-text interchange (`files.md`): relieved, twelve bursts at six control
positions, relieved. Rigs, tips and coating are invented. Two tips wear with each litre, one pump of the two gets
weaker with each month; the rest is noise. The same COUNT gives the same bytes.
"""

import math
import random
import sys
from datetime import datetime, timedelta, timezone
from pathlib import Path

RATE_HZ = 10
DURATION_S = 600
BURST_S = 5
DIALS_BAR = (60, 90, 120, 150, 175, 200)
CLEAR_BAR = 110
# Flow at 1 bar, L/min, and what each litre adds to it.
TIPS = {"415": (0.060, 4.0e-4), "313": (0.044, 2.0e-4)}
EXPONENT = 0.53
PUMP_FALL = {"corded bench pump": 0.0, "cordless cup pump": 0.08}

SESSION = """date = "{date}"
started_at = "{at}"
rig = "{rig}"
tap = "pump_outlet"
simulated = true

[flow_meter]
pulses_per_litre = 3000.0
std_uncertainty_pct = 0.5

[pressure_sensor]
full_scale_bar = 250.0
accuracy_pct_of_full_scale = 0.5

[[material]]
name = "cabin enamel"
density_kg_m3 = 1200.0

[[tip]]
code = "{tip}"

[limits]
working_pressure_bar = 230.0
"""


def write_one(folder, number, share, tip, rig, litres, rng):
    """One recording; returns the litres that it sprayed."""
    at = datetime(2025, 3, 1, 8, 0, tzinfo=timezone.utc) + timedelta(days=270 * share, minutes=17 * (number % 29))
    k, wear = TIPS[tip]
    k *= 1 + wear * litres + rng.gauss(0, 0.004)
    full = DIALS_BAR[-1] * (1 - PUMP_FALL[rig] * share) * (1 + rng.gauss(0, 0.004))
    pressure = [0.3] * (RATE_HZ * DURATION_S)
    flow = [0.0] * len(pressure)
    notes = ["time,tip,material,dial,tails"]
    order = [*DIALS_BAR, *reversed(DIALS_BAR)]
    pause_s = (DURATION_S - 40) / len(order)
    for i, dial in enumerate(order):
        start = 20 + i * pause_s
        stalled = min(dial, full)
        held = 0.97 * stalled
        for row in range(round(start * RATE_HZ), round((start + pause_s) * RATE_HZ)):
            since = row / RATE_HZ - start - 10
            spraying = 0 <= since < BURST_S
            level = held + 1.2 * math.sin(19 * since) if spraying else stalled
            pressure[row] = level + rng.gauss(0, 0.25)
            if spraying:
                flow[row] = k * held**EXPONENT * (1 + rng.gauss(0, 0.003))
        tails = 0 if held > CLEAR_BAR else 2
        notes.append(f"t+{start + 10 + BURST_S + 2:.1f},{tip},cabin enamel,{dial},{tails}")
    rows = ["t_s,pressure_bar,flow_l_min,material_c"]
    rows += [f"{i / RATE_HZ:.1f},{p:.2f},{q:.4f},20.0" for i, (p, q) in enumerate(zip(pressure, flow))]
    folder.mkdir(parents=True)
    (folder / "samples.csv").write_text("\n".join(rows) + "\n")
    (folder / "notes.csv").write_text("\n".join(notes) + "\n")
    (folder / "session.toml").write_text(SESSION.format(date=at.date(), at=at.isoformat(), rig=rig, tip=tip))
    return sum(flow) / RATE_HZ / 60


def write_season(folder, count):
    """Fills FOLDER with COUNT recordings."""
    rng = random.Random(count)
    litres = dict.fromkeys(TIPS, 0.0)
    for number in range(count):
        tip = list(TIPS)[number % 2]
        rig = list(PUMP_FALL)[number // 2 % 2]
        path = Path(folder) / f"trial-{number:04d}"
        litres[tip] += write_one(path, number, number / max(count - 1, 1), tip, rig, litres[tip], rng)


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    write_season(sys.argv[1], int(sys.argv[2]))
