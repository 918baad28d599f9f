#!/usr/bin/env python3
"""The greatest drop of each load over all buildable boats, by two general solvers.

Reads the instances beside it, or those named by --instances, and writes what HiGHS (as a
mixed-integer program) and CP-SAT (with whole parts of a volt) find: solvers.json beside it, or
the file named by --out. A model is built once an instance; for each load its goal and the one
presence that is fixed are exchanged, and only the solve is timed, on one thread. HiGHS is timed
by the clock around its call, CP-SAT by its own clock, which leaves out the passing of the model.

    pip install highspy==1.16.0 ortools==9.15.6755
    python3 tests/facts/worst/solvers.py
"""

import argparse
import json
import pathlib
import platform
import statistics
import time
from importlib.metadata import version

import highspy
from ortools.sat.python import cp_model

HERE = pathlib.Path(__file__).parent
PARTS_OF_A_VOLT = 10**9


def on_the_way(stretches, junction):
    """Stretches between a junction and the source."""
    while junction is not None:
        yield junction
        junction = stretches[junction]["from"]


def volts(instance):
    """For each pair of loads the volts that the second takes from the first."""
    ways = [
        {
            (side, junction)
            for side, end in (("feeds", "feed"), ("returns", "back"))
            for junction in on_the_way(instance[side], load[end])
        }
        for load in instance["loads"]
    ]

    def shared_ohm(one, other):
        both = sorted(ways[one] & ways[other])
        shared = sum(instance[side][at]["resistance_ohm"] for side, at in both)
        return shared + (instance["loads"][one]["own_ohm"] if one == other else 0.0)

    count = range(len(ways))
    amps = [load["current_a"] for load in instance["loads"]]
    return [[shared_ohm(one, other) * amps[other] for other in count] for one in count]


def buildable(instance, boat):
    """Whether a set of options keeps every rule."""

    def kept(rule):
        (kind, options), = rule.items()
        fitted = [option in boat for option in options]
        if kind == "requires":
            return not fitted[0] or fitted[1]
        if kind == "excludes":
            return not all(fitted)
        return sum(fitted) == 1

    return all(kept(rule) for rule in instance["rules"])


def drop(instance, row, boat):
    """Drop of a load on a boat."""
    pairs = zip(row, instance["loads"])
    return sum(volt for volt, load in pairs if boat.issuperset(load["options"]))


def variables(instance):
    """Sets of options of which a variable tells whether all are fitted: each option by itself,
    then each pair a load hangs on."""
    pairs = {tuple(load["options"]) for load in instance["loads"] if len(load["options"]) > 1}
    return [(option,) for option in range(instance["options"])] + sorted(pairs)


def goal(instance, row, place):
    """Weight of each variable, and what every boat has."""
    weights, always = [0.0] * len(place), 0.0
    for volt, load in zip(row, instance["loads"]):
        if load["options"]:
            weights[place[tuple(load["options"])]] += volt
        else:
            always += volt
    return weights, always


class Highs:
    """One mixed-integer program."""

    def __init__(self, instance, sets):
        self.instance, self.sets = instance, sets
        self.place = {options: at for at, options in enumerate(sets)}
        self.program = program = highspy.Highs()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", 0.0),
            # Faster so: its jump heuristic takes longer than the proof.
            ("mip_heuristic_run_feasibility_jump", False),
        ):
            program.setOptionValue(option, value)
        for at in range(len(sets)):
            program.addVar(0.0, 1.0)
            program.changeColIntegrality(at, highspy.HighsVarType.kInteger)
        program.changeObjectiveSense(highspy.ObjSense.kMaximize)
        infinity = highspy.kHighsInf

        def row(low, high, terms):
            program.addRow(low, high, len(terms), [t[0] for t in terms], [t[1] for t in terms])

        for rule in instance["rules"]:
            (kind, options), = rule.items()
            if kind == "requires":
                row(-infinity, 0.0, [(options[0], 1.0), (options[1], -1.0)])
            elif kind == "excludes":
                row(-infinity, 1.0, [(option, 1.0) for option in options])
            else:
                row(1.0, 1.0, [(option, 1.0) for option in options])
        for options in sets:
            if len(options) > 1:
                both = self.place[options]
                for option in options:
                    row(-infinity, 0.0, [(both, 1.0), (option, -1.0)])
                ones = [(option, 1.0) for option in options]
                row(-infinity, len(options) - 1.0, ones + [(both, -1.0)])

    def worst(self, load, row):
        """The greatest drop of a load, and the time it took."""
        weights, _ = goal(self.instance, row, self.place)
        self.program.changeColsCost(len(weights), list(range(len(weights))), weights)
        held = self.instance["loads"][load]["options"]
        if held:
            self.program.changeColBounds(self.place[tuple(held)], 1.0, 1.0)
        start = time.perf_counter()
        self.program.run()
        took = time.perf_counter() - start
        status = self.program.getModelStatus()
        found = None
        if status != highspy.HighsModelStatus.kInfeasible:
            assert status == highspy.HighsModelStatus.kOptimal, status
            values = self.program.getSolution().col_value
            boat = {option for option in range(self.instance["options"]) if values[option] > 0.5}
            assert buildable(self.instance, boat) and boat.issuperset(held)
            found = drop(self.instance, row, boat)
        if held:
            self.program.changeColBounds(self.place[tuple(held)], 0.0, 1.0)
        return found, took


class CpSat:
    """One constraint model."""

    def __init__(self, instance, sets):
        self.instance, self.sets = instance, sets
        self.place = {options: at for at, options in enumerate(sets)}
        self.model = model = cp_model.CpModel()
        self.fitted = fitted = [model.new_bool_var("") for _ in sets]
        for rule in instance["rules"]:
            (kind, options), = rule.items()
            named = [fitted[option] for option in options]
            if kind == "requires":
                model.add_implication(*named)
            elif kind == "excludes":
                model.add_at_most_one(named)
            else:
                model.add_exactly_one(named)
        for options in sets:
            if len(options) > 1:
                both = fitted[self.place[options]]
                for option in options:
                    model.add_implication(both, fitted[option])
                model.add_bool_or([both] + [~fitted[option] for option in options])

    def worst(self, load, row):
        """The greatest drop of a load, and the time it took."""
        weights, always = goal(self.instance, row, self.place)
        parts = [round(weight * PARTS_OF_A_VOLT) for weight in weights]
        held = self.instance["loads"][load]["options"]
        model = self.model.clone()
        fitted = [model.get_bool_var_from_proto_index(one.index) for one in self.fitted]
        if held:
            model.add(fitted[self.place[tuple(held)]] == 1)
        model.maximize(cp_model.LinearExpr.weighted_sum(fitted, parts))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return None, solver.wall_time
        assert status == cp_model.OPTIMAL, status
        return solver.objective_value / PARTS_OF_A_VOLT + always, solver.wall_time


def solved(instance):
    """What both solvers find for each load of an instance."""
    rows, sets = volts(instance), variables(instance)
    result = {"name": instance["name"]}
    for name, solver in (("highs", Highs(instance, sets)), ("cp_sat", CpSat(instance, sets))):
        found = [solver.worst(load, row) for load, row in enumerate(rows)]
        times = [took for _, took in found]
        result[name] = {
            "worst_v": [worst for worst, _ in found],
            "all_s": round(sum(times), 6),
            "median_s": round(statistics.median(times), 6),
            "longest_s": round(max(times), 6),
        }
    return result


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--instances", type=pathlib.Path, default=HERE / "instances.json")
    parser.add_argument("--out", type=pathlib.Path, default=HERE / "solvers.json")
    asked = parser.parse_args()
    result = {
        "made_by": "python3 tests/facts/worst/solvers.py",
        "programs": {
            "python": platform.python_version(),
            "highspy": version("highspy"),
            "ortools": version("ortools"),
        },
        "cp_sat_parts_of_a_volt": PARTS_OF_A_VOLT,
        "instances": [solved(one) for one in json.loads(asked.instances.read_text())],
    }
    asked.out.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
