"""A new parameter version from the marks of a sample: severities, difficulties, scales, and who is linked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from assessments.skill.arrays import Array, parameter_arrays
from assessments.skill.batch import BLOCK, State, Step, Sweep
from assessments.skill.dynamics import fitted, has_enough
from assessments.skill.facets import FacetEquations, centred, solved
from assessments.skill.interface import SkillInputError
from assessments.skill.parameters import COURSE_ENDS, UNKNOWN, Criterion, Facet, Parameters
from assessments.skill.scales import LARGEST_BEND, LEAST_SLOPE, ScaleSums
from assessments.skill.table import MISSING, Ints, MarkTable, Panel, panels

PASSES = 5
CLOSE = 1e-3
_SPREAD_FACET, _SPREAD_CRITERION, _SPREAD_STRETCH, _SPREAD_START, _SPREAD_GAIN = 0.5, 1.0, 0.2, 1.0, 0.5
FEW_MARKS, ENOUGH_MARKS = 30, 300
FIT_STUDENTS, ROUNDS = 300, 2
UNLINKED = "The educators fall into"  # how the note begins that no student is shared


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where each kind of column stands among F, `whole` many; the last two are start and gain."""

    educators: slice
    briefs: slice
    criteria: slice
    course: slice
    rest: slice

    @property
    def whole(self) -> int:
        return int(self.rest.stop)

    @classmethod
    def of(cls, table: MarkTable) -> "_Columns":
        sizes = (len(table.educators), len(table.briefs), table.levels.shape[1], len(COURSE_ENDS), 2)
        ends = np.cumsum((0, *sizes)).tolist()
        return cls(*(slice(*pair) for pair in pairwise(ends)))


def calibrated(table: MarkTable, start: Parameters, *, version: str, passes: int = PASSES) -> Parameters:
    """`start` refitted to the table, whose criteria are those of `start` in the same order.

    Severities, difficulties and the offsets of levelled criteria sum to 0; one educator alone has severity
    exactly 0. Educators and briefs of `start` that the table does not show keep their values. Spreads of
    the dynamics are left as they are: see dynamics.fitted.
    """
    if table.levels.shape[1] != len(start.criteria):
        raise SkillInputError(
            "criteria_do_not_match",
            "The marks and the parameters list different criteria. Build the table from the parameters.",
        )
    if not len(table.student):
        return replace(start, version=version, notes=("No graded sets yet.",))
    current, origin = start, start
    blocks = list(panels(table, BLOCK))
    for _ in range(passes):
        current, change = _one_pass(table, blocks, current, origin)
        if change < CLOSE:
            break
    return replace(current, version=version, notes=linkage_notes(table))


def _one_pass(
    table: MarkTable, blocks: list[Panel], current: Parameters, origin: Parameters
) -> tuple[Parameters, float]:
    sweep = Sweep(table, parameter_arrays(current))
    equations, scales = FacetEquations(sweep), ScaleSums(sweep)

    def watch(panel: Panel, state: State, step: Step) -> None:
        equations.watch(panel, state, step)
        scales.watch(panel, state, step)

    for panel in blocks:
        sweep.run(panel, watch)
    columns, values = _Columns.of(table), _values(current, table)
    precision = _prior_precision(columns)
    change, covariance = solved(equations, precision, precision * (values - _values(origin, table)))
    seen = _seen(table)
    groups = [np.flatnonzero(seen[: columns.briefs.start])]
    groups.append(columns.briefs.start + np.flatnonzero(seen[columns.briefs]))
    variance = np.diag(centred(covariance, groups))
    moved = _with_values(current, table, values + change, np.maximum(variance, 0.0))
    rescaled = _rescaled(moved, scales, table.educators)
    return rescaled, float(np.abs(_values(rescaled, table) - values).max())


def _prior_precision(columns: _Columns) -> Array:
    spread = np.full(columns.whole, _SPREAD_FACET)
    spread[columns.criteria] = _SPREAD_CRITERION
    spread[columns.course] = _SPREAD_STRETCH
    spread[-2:] = _SPREAD_START, _SPREAD_GAIN
    return spread**-2.0


def _values(parameters: Parameters, table: MarkTable) -> Array:
    """(F,) what the columns stand for at present, logits; a new educator or brief at 0."""
    return np.array(
        [
            *(parameters.educators.get(code, UNKNOWN).value for code in table.educators),
            *(parameters.briefs.get(code, UNKNOWN).value for code in table.briefs),
            *(_position(criterion) for criterion in parameters.criteria),
            *parameters.dynamics.course,
            parameters.dynamics.start,
            parameters.dynamics.gain,
        ]
    )


def _position(criterion: Criterion) -> float:
    """Difficulty of a criterion, logits of ability; of its counts when fans are counted."""
    return criterion.offset if criterion.count is None else criterion.count.base / criterion.count.slope


def _with_values(parameters: Parameters, table: MarkTable, values: Array, variance: Array) -> Parameters:
    """The parameters with these values, each kind moved so that it sums to 0 and the start made up for it."""
    columns, seen = _Columns.of(table), _seen(table)
    severity, difficulty = values[columns.educators], values[columns.briefs]
    moved = severity[seen[columns.educators]].mean() + difficulty[seen[columns.briefs]].mean()
    levelled = [place for place, item in enumerate(parameters.criteria) if item.count is None]
    criteria = values[columns.criteria]
    middle = float(criteria[levelled].mean()) if levelled else 0.0
    marks = _marks_by(table)
    return replace(
        parameters,
        criteria=tuple(map(_placed, parameters.criteria, (criteria - middle).tolist())),
        educators={
            **parameters.educators,
            **_facets(table.educators, severity, variance[columns.educators], marks[columns.educators]),
        },
        briefs={
            **parameters.briefs,
            **_facets(table.briefs, difficulty, variance[columns.briefs], marks[columns.briefs]),
        },
        dynamics=replace(
            parameters.dynamics,
            start=float(values[-2] - moved - middle),
            gain=float(values[-1]),
            course=tuple(values[columns.course].tolist()),
        ),
    )


def _marks_by(table: MarkTable) -> Array:
    """(educators + briefs,) marks of each."""
    marks = _marks(table)
    educators = np.bincount(table.educator, marks, len(table.educators))
    return np.concatenate([educators, np.bincount(table.brief, marks, len(table.briefs))])


def _seen(table: MarkTable) -> npt.NDArray[np.bool_]:
    """(F,) whether an educator or brief has marks; the other columns always."""
    seen = np.ones(_Columns.of(table).whole, dtype=bool)
    marks = _marks_by(table)
    seen[: len(marks)] = marks > 0
    return seen


def _marks(table: MarkTable) -> Array:
    """(G,) criteria marked or counted in each grading."""
    marked = table.levels > MISSING
    if table.has_counts:
        marked = marked | (table.inspected > 0)
    return np.asarray(marked.sum(axis=1), dtype=float)


def _facets(codes: tuple[str, ...], values: Array, variance: Array, marks: Array) -> dict[str, Facet]:
    """Of those that have marks."""
    rows = zip(codes, values - values[marks > 0].mean(), variance, marks, strict=True)
    return {
        code: Facet(float(value), float(spread), int(count)) for code, value, spread, count in rows if count
    }


def _placed(criterion: Criterion, position: float) -> Criterion:
    if criterion.count is None:
        return replace(criterion, offset=position)
    return replace(criterion, count=replace(criterion.count, base=position * criterion.count.slope))


def _rescaled(parameters: Parameters, scales: ScaleSums, codes: tuple[str, ...]) -> Parameters:
    """The parameters with thresholds and count scales moved by one step; the educators' own steps have mean 0
    over those who have marks."""
    own = dict(zip(codes, scales.own_steps(), strict=True))
    own = {code: steps for code, steps in own.items() if code in parameters.educators}
    middle = np.mean(list(own.values()), axis=0)
    thresholds = np.add(parameters.thresholds, scales.threshold_change() + middle)
    rows = zip(
        parameters.criteria,
        scales.level_offset_change().tolist(),
        scales.count_change().tolist(),
        scales.dispersion().tolist(),
        strict=True,
    )
    return replace(
        parameters,
        thresholds=tuple(float(step) for step in thresholds),
        educators={
            **parameters.educators,
            **{
                code: replace(parameters.educators[code], steps=tuple((steps - middle).tolist()))
                for code, steps in own.items()
            },
        },
        criteria=tuple(_rescaled_criterion(*row) for row in rows),
    )


def _rescaled_criterion(
    criterion: Criterion, offset: float, curve: Sequence[float], dispersion: Sequence[float]
) -> Criterion:
    count = criterion.count
    if count is None:
        return criterion
    base, slope, bend = np.add((count.base, count.slope, count.bend), curve).tolist()
    slope = max(LEAST_SLOPE, slope)
    most = LARGEST_BEND * slope
    scale = replace(
        count,
        base=base,
        slope=slope,
        bend=min(max(bend, -most), most),
        dispersion=dispersion[0],
        rise=dispersion[1],
    )
    return replace(criterion, offset=criterion.offset + offset, count=scale)


def linkage_notes(table: MarkTable) -> tuple[str, ...]:
    """Sentences for those who compare educators: whether shared students link them, and who marked little."""
    seen = sorted(set(table.educator.tolist()))
    notes: list[str] = []
    if len(seen) == 1:
        notes.append("Only one educator has marked: severity cannot be separated from skill.")
    groups = len(set(educator_groups(table)[seen].tolist()))
    if groups > 1:
        notes.append(
            f"{UNLINKED} {groups} groups with no student in common. A comparison between groups "
            "assumes that their students are alike. Let educators of different groups mark the same student."
        )
    marks = np.bincount(table.educator, _marks(table), len(table.educators))
    few = [table.educators[place] for place in seen if marks[place] < FEW_MARKS]
    if len(few) > 0 and len(seen) > 1:
        notes.append(
            f"{len(few)} of {len(seen)} educators have given fewer than {FEW_MARKS} marks: "
            "their severity is provisional."
        )
    return tuple(notes)


def educator_groups(table: MarkTable) -> Ints:
    """(educators,) the same number for educators who are linked by students, directly or through others."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    size = len(table.educators) + table.students
    links = coo_array(
        (np.ones(len(table.student)), (table.educator, len(table.educators) + table.student)),
        shape=(size, size),
    )
    return np.asarray(connected_components(links, directed=False)[1][: len(table.educators)])


def calibration_sample(table: MarkTable, rng: np.random.Generator, *, limit: int = 2000) -> MarkTable:
    """The marks of at most about `limit` students in random order, every educator and brief covered first.

    Students are taken for the educator or brief with the fewest marks until each has 300 marks or all its
    students are in; only that may pass the limit.
    """
    if table.students <= limit:
        return table
    order = rng.permutation(table.students)
    rank = np.empty(table.students, dtype=np.intp)
    rank[order] = np.arange(table.students)
    chosen = np.zeros(table.students, dtype=bool)
    marks = _marks(table)
    for places in (table.educator, table.brief):
        for facet in np.argsort(np.bincount(places)):
            rows = np.flatnonzero(places == facet)
            rows = rows[np.argsort(rank[table.student[rows]], kind="stable")]
            lacking = np.cumsum(marks[rows]) - marks[rows] < ENOUGH_MARKS
            chosen[table.student[rows[lacking]]] = True
    rest = order[~chosen[order]]
    chosen[rest[: max(0, limit - int(chosen.sum()))]] = True
    return table.of_students(np.flatnonzero(chosen))


def refitted(table: MarkTable, start: Parameters, rng: np.random.Generator, *, version: str) -> Parameters:
    """`calibrated`, and the spreads and the bend of the curve by `fitted` too when there are students enough.

    Two rounds, because each moves what the other holds. Seconds, not milliseconds: for once a week.
    """
    current = calibrated(table, start, version=version)
    if not has_enough(table):
        return current
    few = table.of_students(rng.permutation(table.students)[:FIT_STUDENTS])
    for _ in range(ROUNDS):
        current = calibrated(table, fitted(few, current), version=version)
    return current
