"""How good plans are, and what they cost: small ones to proof, large ones within a minute.

Run with: python -m tests.bench.bench_planning
"""

import os
from statistics import mean
from time import perf_counter, process_time

from courses.planning.constraints import violations
from courses.planning.explain import reasons, unplaced
from courses.planning.solver import solve
from courses.planning.tables import tables_of
from tests.courses.planning.schools import school

SMALL = {"weeks": 2, "needs": 30, "benches": 6, "rooms": 1}
LARGE = {"weeks": 4, "needs": 300, "benches": 20, "rooms": 2}
SEEDS = range(1, 11)
LIMIT_S = 60.0


def main() -> None:
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    began = perf_counter()
    solve(school(seed=1, **SMALL, educators=1), time_limit_s=0)
    print(f"first use, the solver's import included: {perf_counter() - began:.2f} s")
    for educators in (2, 3):
        _small(educators)
    for educators in (6, 3, 2):
        _large(educators)
    print(f"load {os.getloadavg()[0]:.1f}")


def _small(educators: int) -> None:
    """To proven optimum: the floor is 2 s."""
    rows = []
    for seed in SEEDS:
        problem = school(seed=seed, **SMALL, educators=educators)
        wall, cpu = perf_counter(), process_time()
        plan = solve(problem, time_limit_s=LIMIT_S, seed=1)
        rows.append((perf_counter() - wall, process_time() - cpu, plan.is_proven))
    walls, cpus, proven = zip(*rows, strict=True)
    print(
        f"30 needs, 6 benches, 2 weeks, {educators} educators: {sum(proven)} of {len(rows)} proven; "
        f"wall {mean(walls):.2f} s, worst {max(walls):.2f}; "
        f"processor {mean(cpus):.2f} s, worst {max(cpus):.2f}"
    )


def _large(educators: int) -> None:
    """Within 5 % of the bound in 60 s on two cores."""
    problem = school(seed=1, **LARGE, educators=educators)
    tables = tables_of(problem)
    cpu = process_time()
    plan = solve(problem, time_limit_s=LIMIT_S)
    spent, began = process_time() - cpu, perf_counter()
    explained = len(reasons(problem, plan)) + len(unplaced(problem, plan))
    print(
        f"300 needs, 20 benches, 4 weeks, {educators} educators: {len(tables.found)} candidates; "
        f"{len(plan.places)} of {sum(problem.to_place.values())} sessions placed; "
        f"value {plan.value} of at most {plan.bound}, gap {plan.gap:.1%}; "
        f"{plan.seconds:.0f} s, {spent:.0f} s of processor; {len(violations(problem, plan))} rules broken; "
        f"{explained} explanations {perf_counter() - began:.1f} s"
    )


if __name__ == "__main__":
    main()
