"""Which faults were worst in one inspection, and the drills that answer them."""

from collections.abc import Sequence
from dataclasses import dataclass

from assessments.scoring.evidence import BARE_MARK, PositionFinding


@dataclass(frozen=True, slots=True)
class FaultSpec:
    code: str
    name: str
    skill: str
    is_gate: bool
    drill: str


@dataclass(frozen=True, slots=True)
class FaultRate:
    """How often one fault was seen; `inspected` is fans, or for lashes left bare every position drawn."""

    code: str
    name: str
    skill: str
    drill: str
    is_gate: bool
    faults: int
    inspected: int
    rate: float


def fault_rates(findings: Sequence[PositionFinding], specs: Sequence[FaultSpec]) -> tuple[FaultRate, ...]:
    """The faults seen, gate skills first, then worst first; a code without a spec is not reported."""
    rates = (_rate(spec, findings) for spec in specs)
    return tuple(sorted((rate for rate in rates if rate is not None), key=_urgency))


def propose_drills(rates: Sequence[FaultRate], *, limit: int = 2) -> tuple[FaultRate, ...]:
    """The most urgent faults that ask for different drills; ties go by code."""
    chosen: dict[str, FaultRate] = {}
    for rate in sorted(rates, key=_urgency):
        chosen.setdefault(rate.drill, rate)
    return tuple(chosen.values())[: max(limit, 0)]


def _rate(spec: FaultSpec, findings: Sequence[PositionFinding]) -> FaultRate | None:
    if spec.code == BARE_MARK:
        inspected = len(findings)
        faults = sum(finding.bare or BARE_MARK in finding.faults for finding in findings)
    else:
        fans = [finding for finding in findings if not finding.bare]
        inspected = len(fans)
        faults = sum(spec.code in fan.faults for fan in fans)
    if not faults:
        return None
    return FaultRate(
        spec.code, spec.name, spec.skill, spec.drill, spec.is_gate, faults, inspected, faults / inspected
    )


def _urgency(rate: FaultRate) -> tuple[bool, float, str]:
    return (not rate.is_gate, -rate.rate, rate.code)
