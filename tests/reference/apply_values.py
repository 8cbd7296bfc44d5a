"""Reference values from other people's libraries, for the checks named apply_*.

Each script beside this one fills one or more files of ../checks. Run without arguments it
recomputes every value and fails when a stored one differs (relative 1e-9, so that a library
may change its last digits); run with --write it rewrites the files. The Rust tests read the files
and need no Python.
"""

import csv
import math
import pathlib
import sys

CHECKS = pathlib.Path(__file__).resolve().parent.parent / "checks"
RELATIVE = 1e-9


def text(value):
    return repr(float(value)) if isinstance(value, float) else str(value)


def settle(name, comment, header, rows, relative=RELATIVE):
    """Write checks/<name>, or compare it with `rows` and return the list of differences."""
    path = CHECKS / name
    if "--write" in sys.argv[1:]:
        with path.open("w", newline="\n", encoding="utf-8") as file:
            for line in comment:
                file.write(f"# {line}\n")
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            writer.writerows([[text(cell) for cell in row] for row in rows])
        return []
    with path.open(encoding="utf-8") as file:
        stored = list(csv.reader(line for line in file if not line.startswith("#")))
    if stored[0] != list(header):
        return [f"{name}: columns {stored[0]}, expected {list(header)}"]
    if len(stored) - 1 != len(rows):
        return [f"{name}: {len(stored) - 1} rows, expected {len(rows)}"]
    faults = []
    for number, (old, new) in enumerate(zip(stored[1:], rows), start=1):
        for column, old_cell, new_cell in zip(header, old, new):
            if isinstance(new_cell, float):
                same = math.isclose(
                    float(old_cell), new_cell, rel_tol=relative, abs_tol=1e-300
                )
            else:
                same = old_cell == str(new_cell)
            if not same:
                faults.append(f"{name}, row {number}, {column}: stored {old_cell}, now {new_cell}")
    return faults


def finish(faults):
    """Print the differences and leave with 1 when there are any."""
    for fault in faults:
        print(fault)
    sys.exit(1 if faults else 0)
