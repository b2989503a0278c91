"""How long the exact characteristics take, and what the fan counts do when sets vary more than assumed."""

from collections.abc import Callable
from dataclasses import replace
from time import perf_counter

import numpy as np

from assessments.scoring import characteristics
from assessments.scoring.characteristics import attained, clean_sets_left, curve, threshold_for
from assessments.scoring.competence import decide
from assessments.scoring.competence_rules import CompetenceRule, FanSequential, SetResult
from assessments.scoring.lapse import watch_risks
from assessments.scoring.pooled import pooled_defect_rate
from assessments.scoring.programme_rules import PRESETS, THREE_IN_A_ROW, parse_programme, parse_rule
from assessments.scoring.proportions import wilson_interval
from assessments.scoring.simulation import simulate

SEED = 20_250
REPEATS = 5


def main() -> None:
    _print_times()
    _print_rules()
    _print_fan_counts()
    _print_coverage()


def _print_times() -> None:
    print("Competence: median of 5 cold runs, milliseconds")
    for name, work in _tasks().items():
        print(f"  {name:<58}{1000 * _cold(work):9.2f}")


def _tasks() -> dict[str, Callable[[], object]]:
    rng = np.random.default_rng(SEED)
    rules = {name: parse_programme(PRESETS[name]).rule for name in PRESETS}
    shifts = rng.normal(0, 0.5, 40)
    long_history = [SetResult(failed=n % 4 == 0, shift=float(shift)) for n, shift in enumerate(shifts)]
    counts = [SetResult(faults=2, inspected=40, shift=float(shift)) for shift in shifts[:12]]
    uneven = tuple(
        SetResult(faults=1, inspected=int(n), shift=float(shift)).conditions
        for n, shift in zip(rng.integers(34, 46, 20), shifts, strict=False)
    )
    watch = parse_programme(PRESETS["long_course"]).watch
    assert watch is not None
    return {
        **{f"curve over 49 rates, {name}": _bound(curve, rule) for name, rule in rules.items()},
        "threshold for 5 % within 40 sets": lambda: threshold_for(0.10, 0.30, 40, 0.05),
        "watch: run lengths and risks, long course": lambda: watch_risks(watch),
        "decision with attained risk, 40 sets, 40 severities": lambda: decide(
            rules["long_course"], long_history
        ),
        "decision with attained risk, fan counts, 12 sets": lambda: decide(rules["fan_counts"], counts),
        "attained risk, fan counts, 20 sets of 20 sizes": lambda: attained(rules["fan_counts"], uneven),
    }


def _bound(work: Callable[[CompetenceRule], object], rule: CompetenceRule) -> Callable[[], object]:
    return lambda: work(rule)


def _cold(work: Callable[[], object]) -> float:
    times = []
    for _ in range(REPEATS):
        for cache in (characteristics._curve, characteristics._threshold, attained, watch_risks):
            cache.cache_clear()
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return float(np.median(times))


def _print_rules() -> None:
    print("\nExact: declared within 20 sets by true fail rate of a set (median sets at 10 %)")
    rules = {name: parse_programme(PRESETS[name]).rule for name in PRESETS if name != "fan_counts"}
    for name, rule in {"three_in_a_row": parse_rule(THREE_IN_A_ROW), **rules}.items():
        found = curve(rule, rates=(0.50, 0.30, 0.20, 0.10, 0.05), sets=20)
        shares = "".join(f"{share:8.3f}" for share in found.declared)
        print(f"  {name:<16}{shares}   median {found.median_sets[3]}, earliest {clean_sets_left(rule)}")


def _print_fan_counts() -> None:
    rule = parse_programme(PRESETS["fan_counts"]).rule
    assert isinstance(rule, FanSequential)
    rng = np.random.default_rng(SEED)
    print(
        "\nFan counts, 40 a set, .02 against .10: declared within 20 sets, 50,000 simulated students a cell"
    )
    print("  the rule assumes likeness .05; rows: the true likeness of fans in a set; ± one standard error")
    for rho in (0.0, 0.02, 0.05, 0.10, 0.20):
        cells = []
        for rate in (0.10, 0.05, 0.02, 0.01):
            found = simulate(rule, rate, rng=rng, students=50_000, nature=replace(rule, rho=rho))
            cells.append(
                f"{100 * rate:g} %: {found.declared:.4f} ±{found.declared_error:.4f} ({found.median_sets})"
            )
        print(f"  {rho:<6}" + "   ".join(cells))
    exact = curve(rule, rates=(0.10, 0.05, 0.02, 0.01))
    print("  exact " + "   ".join(f"{share:.4f}" for share in exact.declared) + "  at likeness .05")


def _print_coverage() -> None:
    rng = np.random.default_rng(SEED)
    print("\nPooled rate of 8 sets of 12 fans, true rate 10 %: coverage of 95 % intervals, 4,000 students")
    for rho in (0.0, 0.05, 0.10):
        rates = (
            rng.beta(0.1 * (1 / rho - 1), 0.9 * (1 / rho - 1), (4000, 8)) if rho else np.full((4000, 8), 0.1)
        )
        counts = rng.binomial(12, rates)
        naive = [wilson_interval(int(k.sum()), 96, confidence=0.95) for k in counts]
        pooled = [pooled_defect_rate(k.tolist(), [12] * 8) for k in counts]
        covers = [np.mean([each.low <= 0.1 <= each.high for each in found]) for found in (naive, pooled)]
        print(f"  likeness {rho:<5} ignoring it {covers[0]:.3f}   pooled {covers[1]:.3f}")


if __name__ == "__main__":
    main()
