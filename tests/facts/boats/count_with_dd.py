"""Counts the buildable boats of random price lists with a general decision-diagram library.

    pip install dd==0.6.0
    python3 count_with_dd.py > counts.json

Each price list has 20 to 40 options and rules of every kind. Its rules are written as plain
formulas over one variable an option; the library counts the assignments that keep all of them,
and for each option those that have it. Nothing of this project is used.
"""

import importlib.metadata
import json
import platform
import random

from dd.autoref import BDD

MODELS = 60
SEED = 20260


def price_list(rng):
    """Options and rules of the usual shape: rules mostly join options of one area of the boat."""
    count = rng.randint(20, 40)
    names = [f"o{number}" for number in range(count)]

    def near(place):
        if rng.random() < 0.2:
            return rng.randrange(count)
        return (place + rng.randrange(1, 8)) % count

    def group(size):
        first = rng.randrange(count)
        members = [first]
        while len(members) < size:
            member = near(first)
            if member not in members:
                members.append(member)
        return [names[member] for member in members]

    rules = []
    for _ in range(count // 4):
        rules.append({"requires": group(2)})
    for _ in range(count // 8):
        rules.append({"excludes": group(2)})
    for _ in range(count // 6):
        rules.append({"only_with": group(rng.randint(2, 5))})
    for _ in range(count // 12):
        rules.append({"exactly_one_of": group(rng.randint(2, 5))})
        rules.append({"at_most_one_of": group(rng.randint(2, 5))})
    if rng.random() < 0.5:
        rules.append({"always": rng.choice(names)})
    rng.shuffle(rules)
    return names, rules


def formula(rule):
    """A rule as a formula."""
    (kind, said), = rule.items()

    def at_most_one(group):
        pairs = [(a, b) for at, a in enumerate(group) for b in group[at + 1:]]
        return " /\\ ".join(f"~({a} /\\ {b})" for a, b in pairs) or "TRUE"

    if kind == "requires":
        return f"{said[0]} => {said[1]}"
    if kind == "excludes":
        return f"~({said[0]} /\\ {said[1]})"
    if kind == "only_with":
        return said[0] + " => (" + " \\/ ".join(said[1:]) + ")"
    if kind == "exactly_one_of":
        return "(" + " \\/ ".join(said) + ") /\\ " + at_most_one(said)
    if kind == "at_most_one_of":
        return at_most_one(said)
    if kind == "always":
        return said
    raise ValueError(kind)


def counted(names, rules):
    """The price list with its counts."""
    diagram = BDD()
    diagram.declare(*names)
    diagram.configure(reordering=True)
    boats = diagram.true
    for rule in rules:
        boats &= diagram.add_expr(formula(rule))
    count = len(names)
    with_each = [diagram.count(boats & diagram.var(name), nvars=count) for name in names]
    return {
        "options": names,
        "rules": rules,
        "buildable": str(diagram.count(boats, nvars=count)),
        "with_each": [str(number) for number in with_each],
    }


def main():
    rng = random.Random(SEED)
    models = [json.dumps(counted(*price_list(rng))) for _ in range(MODELS)]
    program = f"dd {importlib.metadata.version('dd')} (dd.autoref), Python {platform.python_version()}"
    print("{")
    print(f' "program": {json.dumps(program)},')
    print(' "models": [')
    print(",\n".join("  " + model for model in models))
    print(" ]")
    print("}")


main()
