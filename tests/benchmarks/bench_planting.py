"""Choosing plants: seconds and gaps.

Run ``python tests/benchmarks/bench_planting.py [--proven] [--yards N] [--town N]``. Seeded yards: "large" has
200 bed sites and 30 plants; "street" are N yards of nine borders and four spots with all plants of the
tables, as a neighbourhood has them; "town" are N random yards from their open ground to the drawn points,
one after another, with the memory that they take. Processor seconds of one process, medians of three runs.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.planting.choice.facts import read_facts
from habitat.planting.choice.problem import Standing, YardWishes
from habitat.planting.drawing.observed import ObservedCapacity
from habitat.planting.yard_jobs import ChoiceJob, _choose, plan_for
from tests.support.choice_yards import WISHES, bed, choose, facts_of, knowledge, problem_of
from tests.support.yards import KNOWLEDGE, NEEDS, SEASON, SETTINGS, SHARED, random_yard, scene

MORE_WISHES = (*WISHES, "Argynnis cybele", "Battus philenor")


def thirty_plants():
    """Hosts of the wishes and nectar plants of every month, in the order of the table."""
    hosts = set(knowledge().host_plants.query("butterfly in @MORE_WISHES")["plant"])
    table = knowledge().plants
    herbs = table[table["form"] == "forb"]
    names = [p for p in herbs.index if p in hosts][:14]
    names += [p for p in herbs.index if p not in hosts and herbs.loc[p, "nectar_value"] > 1][
        : 30 - len(names)
    ]
    return tuple(sorted(names))


def large_yard(sites=200, seed=7):
    """Return a yard of many small beds: sun and moisture vary smoothly, so fits do."""
    rng = np.random.default_rng(seed)
    facts = facts_of(thirty_plants(), MORE_WISHES)
    sun, wet = rng.uniform(0.2, 1, len(facts.plants)), rng.uniform(0, 1, len(facts.plants))
    beds = []
    for i in range(sites):
        here = (
            0.5 + 0.35 * np.sin(i / 9) + rng.normal(0, 0.08),
            0.5 + 0.35 * np.cos(i / 13) + rng.normal(0, 0.08),
        )
        off = np.maximum(abs(here[0] - sun), abs(here[1] - wet))
        beds.append(bed(i, facts, area_m2=3.0, fit=np.clip(1.3 - 1.6 * off, 0, 1)))
    return problem_of(beds, facts, budget=6.0 * sites * 0.45, yard_id=f"large {seed}")


def street_yard(number):
    """Return one of many ordinary yards."""
    rng = np.random.default_rng(number)
    facts = facts_of(None, MORE_WISHES)
    beds = [
        bed(i, facts, area_m2=float(rng.uniform(4, 14)), fit=rng.uniform(0, 1, len(facts.plants)))
        for i in range(9)
    ]
    beds += [bed(9 + i, facts, form="shrub", fit=rng.uniform(0, 1, len(facts.plants))) for i in range(3)]
    beds.append(bed(12, facts, form="tree", fit=rng.uniform(0, 1, len(facts.plants))))
    return problem_of(beds, facts, budget=250.0, yard_id=f"street {number}")


def timed(work, runs=3):
    """Return the median seconds of some runs and the last answer."""
    seconds, answer = [], None
    for _ in range(runs):
        start = time.process_time()
        answer = work()
        seconds.append(time.process_time() - start)
    return statistics.median(seconds), answer


def town(count):
    """Plan random yards from their ground to their points, and tell time and memory at half and all of it."""
    facts = read_facts(KNOWLEDGE, NEEDS, MORE_WISHES, SETTINGS, SEASON)
    shared = replace(SHARED, facts=facts)
    standing = Standing(np.zeros(len(facts.meals)), np.zeros(len(facts.meals)))
    spent, worth, bound = {"places": 0.0, "one choice": 0.0, "choosing and drawing": 0.0}, 0.0, 0.0
    for seed in range(-1, count):
        one, times = scene(*random_yard(max(seed, 0))), [time.process_time()]
        job = ChoiceJob(one.yard, YardWishes(f"Y{seed}", 250.0), one.sites(), standing)
        times.append(time.process_time())
        _choose(job, shared, ObservedCapacity())
        times.append(time.process_time())
        choice, _ = plan_for(job, shared)
        times.append(time.process_time())
        if seed < 0:
            continue  # compiles
        spent = {name: s + b - a for (name, s), a, b in zip(spent.items(), times, times[1:], strict=False)}
        worth, bound = worth + choice.worth, bound + choice.bound
        if seed + 1 in (count // 2, count):
            peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            whole = spent["places"] + spent["choosing and drawing"]
            report(f"town of {seed + 1} yards, quick", whole, worth, bound)
            each = ", ".join(f"{name} {1000 * s / (seed + 1):.0f} ms" for name, s in spent.items())
            print(f"  a yard: {each}; peak memory {peak_mb:.0f} MB")


def report(name, seconds, worth, bound):
    """Print one line."""
    gap = (bound - worth) / worth
    print(f"{name:32s} {seconds:8.3f} s  worth {worth:9.2f}  bound {bound:9.2f}  gap {gap:7.2%}")


def main():
    """Run the benchmarks that were asked for."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--proven", action="store_true")
    ask.add_argument("--yards", type=int, default=40)
    ask.add_argument("--town", type=int, default=0)
    asked = ask.parse_args()
    if asked.town:
        town(asked.town)
        return
    choose(street_yard(0))
    for seed in (7, 8, 9):
        problem = large_yard(seed=seed)
        seconds, plan = timed(lambda problem=problem: choose(problem))
        report(f"200 sites x 30 plants, seed {seed}", seconds, plan.worth, plan.bound)
        if asked.proven:
            seconds, choice = timed(lambda problem=problem: choose(problem, effort="proven"), runs=1)
            report(f"  proven to 1 %, seed {seed}", seconds, choice.worth, choice.bound)
    problems = [street_yard(n) for n in range(asked.yards)]
    for effort in ("quick", *(["proven"] if asked.proven else [])):
        seconds, plans = timed(lambda effort=effort: [choose(p, effort=effort) for p in problems], runs=1)
        worth, bound = sum(c.worth for c in plans), sum(c.bound for c in plans)
        report(f"{asked.yards} yards of a street, {effort}", seconds, worth, bound)


if __name__ == "__main__":
    main()
