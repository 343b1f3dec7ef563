"""Makes cases of builds that could exchange parts, and solves each to its proven optimum.

    python3 -m venv venv && venv/bin/pip install ortools
    venv/bin/python tests/bench/swap_optimum.py > crates/baystart-core/src/plan/ask/swaps/cases.txt

A case: builds with a due day, a floor (a day before which they cannot start), a weight, and
whether they may slip; parts, each a list of claims (build, offset, arrival of the piece that the
build holds). A piece may go to any claim of its part. Sought: the least sum of weight times days
late, where a build that must not slip does not become later than it is, or late at all.
"""

import random
import sys

import ortools
from ortools.sat.python import cp_model

SEED = 20260914
CASES = 60


def make(draw, may_slip):
    builds = draw.randint(8, 16)
    rows = [
        (draw.randint(0, 30), draw.choice([0, 0, 0, draw.randint(0, 20)]), draw.choice([100, 133, 150, 182]))
        for _ in range(builds)
    ]
    slip = [int(may_slip and weight <= 133) for _, _, weight in rows]
    parts = []
    for _ in range(draw.randint(8, 20)):
        claims = []
        for build in draw.sample(range(builds), draw.randint(2, min(7, builds))):
            offset = draw.choice([0, 0, 3, 5, 8])
            for _ in range(draw.choice([1, 1, 1, 2])):
                at = draw.choice([0, 0, 0, draw.randint(1, 45), draw.randint(1, 45)])
                claims.append((build, offset, at))
        parts.append(claims)
    return rows, slip, parts


def optimum(rows, slip, parts):
    model = cp_model.CpModel()
    now = [floor for _, floor, _ in rows]
    for claims in parts:
        for build, offset, at in claims:
            now[build] = max(now[build], at - offset)
    starts = [model.new_int_var(floor, 200, "") for _, floor, _ in rows]
    late = []
    for build, (due, _, weight) in enumerate(rows):
        days = model.new_int_var(0, 200, "")
        model.add(days >= starts[build] - due)
        if not slip[build]:
            model.add(days <= max(0, now[build] - due))
        late.append(weight * days)
    for claims in parts:
        gets = [[model.new_bool_var("") for _ in claims] for _ in claims]
        for at in range(len(claims)):
            model.add_exactly_one(gets[at])
            model.add_exactly_one(row[at] for row in gets)
        for claim, (build, offset, _) in enumerate(claims):
            arrival = sum(gets[claim][piece] * claims[piece][2] for piece in range(len(claims)))
            model.add(starts[build] >= arrival - offset)
    model.minimize(sum(late))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = 60
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL, solver.status_name(status)
    return round(solver.objective_value)


def main():
    draw = random.Random(SEED)
    print(f"# Made and solved to proven optimality by tests/bench/swap_optimum.py, ortools {ortools.__version__}, seed {SEED}.")
    print("# build DUE FLOOR WEIGHT MAY-SLIP; part; claim BUILD OFFSET ARRIVAL; optimum SUM")
    for case in range(CASES):
        rows, slip, parts = make(draw, case % 3 == 2)
        for (due, floor, weight), slips in zip(rows, slip):
            print("build", due, floor, weight, slips)
        for claims in parts:
            print("part")
            for claim in claims:
                print("claim", *claim)
        print("optimum", optimum(rows, slip, parts))
        print(case, file=sys.stderr)


main()
