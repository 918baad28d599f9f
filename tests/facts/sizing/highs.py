"""Least copper for committed instances by HiGHS, as a mixed-integer linear program.

    pip install highspy
    python3 highs.py                             every instance-*.json, 45 s each, writes results.json
    python3 highs.py --seconds 10 FILE           one instance, prints its result

One binary variable for each segment and size; one size for each segment; each drop within its
limit. One thread. `reached` lists every better solution with the seconds it took to find it.
"""

import argparse
import json
import pathlib
import platform
import time

import highspy

HERE = pathlib.Path(__file__).resolve().parent
SECONDS = 45.0


def choices(instance, segment):
    """Area and mass of each size a segment may take."""
    per_mm2 = instance["copper_kg_per_m_mm2"] * segment["length_m"]
    areas = instance["areas_mm2"]
    return [(area, per_mm2 * area) for area in areas if area >= segment["least_mm2"]]


def solve(instance, seconds):
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("time_limit", seconds)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 1e-9)

    first, areas = [], []
    for segment in instance["segments"]:
        first.append(highs.getNumCol())
        sizes = choices(instance, segment)
        areas.append([area for area, _ in sizes])
        for _, mass_kg in sizes:
            highs.addVar(0.0, 1.0)
            column = highs.getNumCol() - 1
            highs.changeColCost(column, mass_kg)
            highs.changeColIntegrality(column, highspy.HighsVarType.kInteger)
        columns = list(range(first[-1], highs.getNumCol()))
        highs.addRow(1.0, 1.0, len(columns), columns, [1.0] * len(columns))
    for row in instance["rows"]:
        columns, values = [], []
        for segment, volts_mm2 in row["terms"]:
            for choice, area in enumerate(areas[segment]):
                columns.append(first[segment] + choice)
                values.append(volts_mm2 / area)
        highs.addRow(-highspy.kHighsInf, row["limit_v"], len(columns), columns, values)

    reached = []
    start = time.perf_counter()

    def improved(event):
        reached.append([round(time.perf_counter() - start, 4), event.data_out.objective_function_value])

    highs.cbMipImprovingSolution.subscribe(improved)
    highs.run()
    taken = time.perf_counter() - start
    info = highs.getInfo()
    return {
        "best_kg": info.objective_function_value,
        "bound_kg": info.mip_dual_bound,
        "seconds": round(taken, 2),
        "status": highs.modelStatusToString(highs.getModelStatus()),
        "reached": reached,
    }


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--seconds", type=float, default=SECONDS)
    arguments.add_argument("files", nargs="*", type=pathlib.Path)
    given = arguments.parse_args()
    files = given.files or sorted(HERE.glob("instance-*.json"))
    results = []
    for file in files:
        instance = json.loads(file.read_text())
        result = {"seed": instance["seed"], **solve(instance, given.seconds)}
        results.append(result)
    if given.files:
        print(json.dumps(results))
        return
    document = {
        "program": f"HiGHS {highspy.Highs().version()}, one thread",
        "python": platform.python_version(),
        "time_limit_s": given.seconds,
        "results": results,
    }
    (HERE / "results.json").write_text(json.dumps(document, indent=1) + "\n")


if __name__ == "__main__":
    main()
