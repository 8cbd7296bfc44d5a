"""Fits one nozzle curve with scipy.odr, with 95 % intervals. The yardstick of tests/bench.

Reads the points that `speed fit` printed from standard input; prints one JSON object.
"""

import json
import sys
import time

import numpy as np
from scipy import odr, stats

FITS = 50


def fit(x, y, sx, sy):
    model = odr.Model(lambda beta, x: beta[0] + beta[1] * x)
    data = odr.RealData(x, y, sx=sx, sy=sy)
    out = odr.ODR(data, model, beta0=[y.mean(), 0.5]).run()
    half = stats.t.ppf(0.975, len(x) - 2) * out.sd_beta
    return out.beta, half


if __name__ == "__main__":
    given = json.load(sys.stdin)
    p, q = np.array(given["pressure_pa"]), np.array(given["flow_m3_per_s"])
    x, y = np.log(p / given["p_ref_pa"]), np.log(q)
    sx = np.array(given["u_pressure_pa"]) / p
    sy = np.array(given["u_flow_m3_per_s"]) / q
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        for _ in range(FITS):
            beta, half = fit(x, y, sx, sy)
        times.append((time.perf_counter() - begin) / FITS)
    print(json.dumps({"fit_s": min(times), "q_ref_m3_per_s": float(np.exp(beta[0])), "n": float(beta[1])}))
