"""The line under all arrivals as a linear programme (scipy), for fixed arrivals.

Minimise the mean height of the points above a line that no point lies under: the problem that
Moon, Skelly and Towsley (1999) state for clock skew.
"""

import numpy
from scipy.optimize import linprog

from apply_values import finish, settle

rows = []
for case, (n, drift, factor) in enumerate(((40, 2e-4, 31), (120, -5e-4, 47), (60, 0.0, 17))):
    i = numpy.arange(n)
    t = 0.5 * i
    # Whole-number residues: an irregular pattern that any language reproduces exactly.
    y = 3.0 + drift * t + 0.001 * ((i * i * 13 + 5 * i) % factor)
    centred = t - t.mean()
    found = linprog(
        c=[-1.0, 0.0],
        A_ub=numpy.column_stack([numpy.ones(n), centred]),
        b_ub=y,
        bounds=[(None, None), (None, None)],
        method="highs",
    )
    height, slope = found.x
    for t_i, y_i in zip(t, y):
        rows.append([case, float(t_i), float(y_i), float(height), float(slope)])

finish(
    settle(
        "reference_clock.csv",
        [
            "Highest line under all points at their mean abscissa, by scipy 1.17.1 (HiGHS).",
            "t_s, shift_s: points; height_s, slope: the line at the mean of t_s.",
        ],
        ["case", "t_s", "shift_s", "height_s", "slope"],
        rows,
        relative=1e-7,
    )
)
