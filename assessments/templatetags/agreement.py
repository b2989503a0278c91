"""Draws figures with their intervals on one common scale, for the Agreement page."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import template

from assessments.scoring.agreement_report import CriterionAgreement, EducatorFinding, Figure

register = template.Library()

LEFT, RIGHT = 10.0, 310.0  # of the scale in the drawing's 320 units


@dataclass(frozen=True, slots=True)
class PlotRow:
    """``x``, ``low``, ``high`` in the drawing's units; ``x`` is None where there is no figure."""

    name: str
    x: float | None
    low: float
    width: float
    has_interval: bool
    faint: bool
    told: str


@dataclass(frozen=True, slots=True)
class Tick:
    x: float
    text: str

    @property
    def anchor(self) -> str:
        """Words at the end of the scale stay inside the drawing."""
        return "end" if self.x > RIGHT - 40 else "middle"


@dataclass(frozen=True, slots=True)
class Scale:
    start: float
    end: float
    ticks: tuple[tuple[float, str], ...]

    def at(self, value: float) -> float:
        inside = min(max(value, self.start), self.end)
        return round(LEFT + (RIGHT - LEFT) * (inside - self.start) / (self.end - self.start), 1)

    @property
    def marks(self) -> list[Tick]:
        return [Tick(self.at(value), text) for value, text in self.ticks]


KAPPA = Scale(
    -0.25, 1.0, ((0.0, "as by chance"), (0.25, ""), (0.5, ""), (0.75, ""), (1.0, "always the same"))
)
SEVERITY = Scale(
    -1.5, 1.5, ((-1.0, "1 level lower"), (-0.5, ""), (0.0, "average"), (0.5, ""), (1.0, "1 level higher"))
)


@register.inclusion_tag("assessments/_interval_plot.html")
def kappa_plot(criteria: Iterable[CriterionAgreement]) -> dict[str, Any]:
    """Agreement beyond chance by criterion."""
    rows = [_row(row.name, row.kappa, KAPPA, faint=row.indicative) for row in criteria]
    return {"rows": rows, "ticks": KAPPA.marks, "zero": KAPPA.at(0), "lead": "agreement beyond chance"}


@register.inclusion_tag("assessments/_interval_plot.html")
def severity_plot(educators: Iterable[EducatorFinding]) -> dict[str, Any]:
    """Levels above or below the average educator."""
    rows = [_row(row.name, row.severity, SEVERITY, faint=False) for row in educators]
    return {"rows": rows, "ticks": SEVERITY.marks, "zero": SEVERITY.at(0), "lead": "levels from the average"}


@register.filter
def two(value: float | None) -> str:
    """A figure to two decimals with a real minus sign; a dash when there is none."""
    return "–" if value is None else f"{value:.2f}".replace("-", "−").replace("−0.00", "0.00")


@register.filter
def interval(figure: Figure) -> str:
    return "–" if figure.low is None or figure.high is None else f"{two(figure.low)} to {two(figure.high)}"


def _row(name: str, figure: Figure, scale: Scale, *, faint: bool) -> PlotRow:
    if figure.value is None:
        return PlotRow(name, None, 0, 0, False, faint, "no figure yet")
    if figure.low is None or figure.high is None:
        return PlotRow(name, scale.at(figure.value), 0, 0, False, faint, two(figure.value))
    low, high = scale.at(figure.low), scale.at(figure.high)
    told = f"{two(figure.value)}, 90 % interval {interval(figure)}"
    return PlotRow(name, scale.at(figure.value), low, round(max(high - low, 2.0), 1), True, faint, told)
