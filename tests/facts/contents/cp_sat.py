"""Harness contents by a general constraint solver (OR-Tools CP-SAT), for comparison.

The model as one would write it down: which modules each content has, which content each order
gets, and what an order then costs. Needs `pip install ortools`.

    python3 tests/facts/contents/cp_sat.py
        solves every question of instances.json with 2 to 5 contents and writes cp_sat.json
    python3 tests/facts/contents/cp_sat.py --instance m16-k30 --contents 2 3
        solves these only and prints them
"""

import argparse
import json
import platform
import time
from pathlib import Path

import ortools
from ortools.sat.python import cp_model

HERE = Path(__file__).parent
LIMIT_S = 20.0
WORKERS = 1


def cents(amount):
    return round(amount * 100)


def solve(question, contents):
    model = cp_model.CpModel()
    names = [module["name"] for module in question["modules"]]
    cost = {module["name"]: cents(module["cost"]) for module in question["modules"]}
    base = cents(question["base_cost"])
    shared = [(part["needed_by"], cents(part["cost"])) for part in question["shared"]]

    def cost_of(modules):
        parts = (amount for needed_by, amount in shared if set(needed_by) & set(modules))
        return base + sum(cost[name] for name in modules) + sum(parts)

    full = cost_of(names)
    each, has = [], []
    for level in range(contents):
        bits = {name: model.new_bool_var(f"has {level} {name}") for name in names}
        terms = [cost[name] * bits[name] for name in names]
        for part, (needed_by, amount) in enumerate(shared):
            needed = model.new_bool_var(f"shared {level} {part}")
            for name in needed_by:
                model.add_implication(bits[name], needed)
            terms.append(amount * needed)
        amount = model.new_int_var(base, full, f"cost {level}")
        model.add(amount == base + sum(terms))
        each.append(amount)
        has.append(bits)
    # Contents are alike: name them by rising cost.
    for lower, higher in zip(each, each[1:]):
        model.add(lower <= higher)

    total = []
    for number, order in enumerate(question["orders"]):
        gets = [model.new_bool_var(f"gets {number} {level}") for level in range(contents)]
        model.add_exactly_one(gets)
        paid = model.new_int_var(cost_of(order["modules"]), full, f"paid {number}")
        for level in range(contents):
            for name in order["modules"]:
                model.add_implication(gets[level], has[level][name])
            model.add(paid >= each[level]).only_enforce_if(gets[level])
        total.append(order["boats_per_year"] * paid)
    model.minimize(sum(total))

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.max_time_in_seconds = LIMIT_S
    start = time.perf_counter()
    status = solver.solve(model)
    seconds = time.perf_counter() - start
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return {
        "status": solver.status_name(status),
        "objective": round(solver.objective_value) if found else None,
        "bound": round(solver.best_objective_bound),
        "seconds": round(seconds, 3),
    }


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--instance", help="this question only, printed")
    parser.add_argument("--contents", type=int, nargs="+", default=[2, 3, 4, 5])
    asked = parser.parse_args()
    instances = json.loads((HERE / "instances.json").read_text())
    rows = []
    for instance in instances:
        if asked.instance not in (None, instance["name"]):
            continue
        for contents in asked.contents:
            row = {"instance": instance["name"], "contents": contents}
            rows.append(row | solve(instance["question"], contents))
    made_with = {
        "ortools": ortools.__version__,
        "python": platform.python_version(),
        "workers": WORKERS,
        "limit_s": LIMIT_S,
    }
    lines = ",\n".join("    " + json.dumps(row) for row in rows)
    text = f'{{\n  "made_with": {json.dumps(made_with)},\n  "rows": [\n{lines}\n  ]\n}}\n'
    if asked.instance:
        print(text)
    else:
        (HERE / "cp_sat.json").write_text(text)


if __name__ == "__main__":
    main()
