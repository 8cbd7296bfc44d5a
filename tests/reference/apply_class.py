"""Components of variance of unbalanced crossed and nested classes by statsmodels (REML)."""

import numpy
import pandas
import statsmodels.formula.api as smf

from apply_values import finish, settle

rng = numpy.random.default_rng(20240501)
data_rows, results = [], []


def simulate(case, cells, sd_student, sd_bench, sd_residual):
    students = {s: rng.normal(0, sd_student) for s in sorted({c[0] for c in cells})}
    benches = {b: rng.normal(0, sd_bench) for b in sorted({c[1] for c in cells})}
    rows = []
    for student, bench, n in cells:
        for _ in range(n):
            value = round(
                10 + students[student] + benches[bench] + rng.normal(0, sd_residual), 4
            )
            rows.append((student, bench, value))
            data_rows.append([case, student, bench, value])
    frame = pandas.DataFrame(rows, columns=["student", "bench", "y"])
    frame["all"] = 1
    model = smf.mixedlm(
        "y ~ 1", frame, groups="all",
        vc_formula={"student": "0 + C(student)", "bench": "0 + C(bench)"},
    )
    best = None
    for method in ("lbfgs", "powell", "nm"):
        fit = model.fit(reml=True, method=method, maxiter=5000)
        if best is None or fit.llf > best.llf:
            best = fit
    names = list(model.exog_vc.names)
    vc = dict(zip(names, best.vcomp))
    results.append([case, float(vc["student"]), float(vc["bench"]), float(best.scale)])


crossed = [(s, b, int(rng.integers(1, 4))) for s in range(10) for b in range(4) if rng.random() < 0.7]
simulate("crossed", crossed, 0.5, 0.4, 0.3)
nested = [(s, s // 4, int(rng.integers(2, 6))) for s in range(20)]
simulate("nested", nested, 0.4, 0.8, 0.3)

faults = settle(
    "reference_class_data.csv",
    ["Invented classes: bursts of students at benches, crossed with gaps and nested."],
    ["case", "student", "bench", "value"],
    data_rows,
)
faults += settle(
    "reference_class.csv",
    ["Components of variance of reference_class_data.csv by statsmodels 0.15.0 (MixedLM, REML)."],
    ["case", "variance_student", "variance_bench", "variance_residual"],
    results,
    relative=2e-3,
)
finish(faults)
