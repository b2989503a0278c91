"""One function for each condition: met or not, on what evidence, and the shortest way there."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from math import ceil

from assessments.scoring.mastery import TOP_LEVEL, MasteryConditions, MasterySet, check_mastery
from assessments.scoring.readiness_facts import (
    Condition,
    ConsentFact,
    Evidence,
    HoursFact,
    LevelFact,
    MasteryFact,
    SetFact,
    SkillFact,
    UnitFact,
    day,
    set_evidence,
)
from assessments.scoring.wording import counted

USUAL_INSPECTED = 40  # fans a set, where none has been inspected yet
GATE_FAULT = "a gate fault"
NAMED = 3  # more are counted, not named
_CONSENT_WAY = "The student gives it herself, under My consents."
RECENT_SETS = 3  # whose length tells how long the next ones will be


def units(found: Sequence[UnitFact], code: str, name: str) -> Condition:
    done = [unit for unit in found if unit.passed]
    missing = [unit.title for unit in found if not unit.passed]
    return Condition(
        code,
        name,
        not missing,
        f"{len(done)} of {counted(len(found), 'unit')} signed off." if found else "None asked for.",
        f"An educator signs off {_named(missing)}." if missing else "",
        tuple(Evidence("unit", unit.code, f"{unit.title}: {unit.words}", unit.row) for unit in done),
    )


def theory_hours(hours: HoursFact, asked: float) -> Condition:
    missing = _missing(hours.theory, asked)
    return Condition(
        "theory_hours",
        "Theory hours",
        not missing,
        f"{_hours(hours.theory)}; {_hours(_minutes(asked))} asked for.",
        f"{_hours(missing)} more theory, entered by an educator." if missing else "",
        (Evidence("hours", "theory", f"{_hours(hours.theory)} entered"),),
    )


def practical_hours(hours: HoursFact, sets: Sequence[SetFact], asked: float) -> Condition:
    """Entered hours and the recorded clock of practice sets together."""
    missing = _missing(hours.practical + hours.clock, asked)
    return Condition(
        "practical_hours",
        "Practical hours",
        not missing,
        f"{_hours(hours.practical + hours.clock)}; {_hours(_minutes(asked))} asked for.",
        f"{_hours(missing)} more{_in_sets(missing, sets)}." if missing else "",
        (
            Evidence("hours", "practical", f"{_hours(hours.practical)} entered"),
            Evidence("sets", "", f"{_hours(hours.clock)} on the clock of practice sets"),
        ),
    )


def graded_sets(done: int, asked: int) -> Condition:
    missing = max(0, asked - done)
    return Condition(
        "graded_sets",
        "Graded sets",
        not missing,
        f"{counted(done, 'graded set')}; {asked} asked for.",
        f"{counted(missing, 'more graded set')}." if missing else "",
        (Evidence("sets", "", counted(done, "graded set")),),
    )


def hygiene(sets: Sequence[SetFact], asked: int) -> Condition:
    """Every hygiene line signed in each of the last sets; one missed line starts the count afresh."""
    last = sets[-asked:]
    run = next((nth for nth, found in enumerate(reversed(last)) if not found.is_clean), len(last))
    met = run >= asked
    return Condition(
        "hygiene",
        "Hygiene lines",
        met,
        f"{counted(run, 'set')} in a row with every line signed; {asked} asked for.",
        "" if met else f"{counted(asked - run, 'more graded set')} with every hygiene line signed.",
        tuple(set_evidence(found, _lines(found)) for found in last),
    )


def competence(skills: Sequence[SkillFact]) -> Condition:
    missing = [skill for skill in skills if not skill.competent]
    return Condition(
        "competence",
        "Gate skills",
        not missing and bool(skills),
        f"{len(skills) - len(missing)} of {counted(len(skills), 'gate skill')} declared competent.",
        " ".join(_skill_way(skill) for skill in missing),
        tuple(Evidence("skill", each.code, f"{each.name}: {each.words}", each.row) for each in skills),
    )


def mastery(fact: MasteryFact) -> Condition:
    """All mastery conditions but the blind mark, which is a condition of its own."""
    found = check_mastery(fact.history, fact.conditions, fault=GATE_FAULT)
    lines = [line for line in found.lines if line.code != "blind"]
    missing = tuple(line.words for line in lines if not line.met)
    asked = fact.conditions
    met = f"All {len(lines)} mastery conditions met on the last {counted(asked.sets, 'set')}."
    return Condition(
        "mastery",
        "Mastery",
        not missing,
        f"{len(missing)} of {len(lines)} mastery conditions not met yet." if missing else met,
        _mastery_way(fact.history, asked) if missing else "",
        tuple(set_evidence(each) for each in fact.sets[-asked.sets :]),
        missing,
    )


def blind_mark(fact: MasteryFact) -> Condition:
    line = next(
        line
        for line in check_mastery(fact.history, fact.conditions, fault=GATE_FAULT).lines
        if line.code == "blind"
    )
    last = list(zip(fact.sets, fact.history, strict=True))[-fact.conditions.sets :]
    return Condition(
        "blind_mark",
        "Blind second mark",
        line.met,
        line.words,
        "" if line.met else _blind_way(fact, [found.number for found, _ in last]),
        tuple(
            set_evidence(found, "marked blind by another educator")
            for found, each in last
            if each.blind_by - {each.educator}
        ),
    )


def consent(purpose: str, found: ConsentFact | None) -> Condition:
    code = f"consent_{purpose}"
    if found is None:
        words = f'The programme asks for a consent "{purpose}" that nobody can give.'
        return Condition(code, "Consent", False, words, "The owner publishes a corrected programme version.")
    name = f"Consent: {found.name}"
    if found.on is None:
        return Condition(code, name, False, "Not given yet.", _CONSENT_WAY)
    words = f"{'Given' if found.given else 'Withdrawn'} on {day(found.on)}."
    evidence = (Evidence("consent", purpose, words, found.row),)
    return Condition(code, name, found.given, words, "" if found.given else _CONSENT_WAY, evidence)


def recent(sets: Sequence[SetFact], lapse_days: int, now: datetime) -> Condition:
    """A graded set within the days after which an open gate would lapse."""
    last = max(sets, key=lambda found: found.graded_at, default=None)
    met = last is not None and now - last.graded_at < timedelta(days=lapse_days)
    asked = f"At least one in {counted(lapse_days, 'day')} asked for."
    return Condition(
        "recent",
        "Recent practice",
        met,
        f"{_last_graded(last, now)} {asked}",
        "" if met else "One more graded set.",
        (set_evidence(last, "graded"),) if last else (),
    )


def left(on: date) -> Condition:
    way = "The owner invites the student again."
    return Condition("place", "Place at the academy", False, f"Ended on {day(on)}.", way)


def gate_opened(openings: int) -> Condition:
    return Condition(
        "gate_opened",
        "Gate to live models",
        openings > 0,
        f"Opened {_times(openings)}." if openings else "Not opened yet.",
        "" if openings else "All conditions of the gate, and both signatures.",
    )


def level(skill: str, fact: LevelFact | None, asked: float) -> Condition:
    """`fact` None: no skill has this code."""
    name = fact.name if fact else skill
    found = fact.level if fact else None
    met = found is not None and round(found, 1) >= asked
    way = f"Practice in {name.lower()} until its estimate reaches {asked:g}."
    return Condition(
        f"level_{skill}",
        f"Level: {name}",
        met,
        f"{'Not marked yet' if found is None else f'At {found:.1f}'}; {asked:g} asked for.",
        "" if met else way,
        (Evidence("skill", skill, f"{name}: {found:.1f}"),) if found is not None else (),
    )


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _named(titles: Collection[str]) -> str:
    shown = list(titles)[:NAMED]
    rest = len(titles) - len(shown)
    names = [f"“{title}”" for title in shown] + ([f"{rest} more"] if rest else [])
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _missing(minutes: int, asked: float) -> int:
    return max(0, _minutes(asked) - minutes)


def _minutes(hours: float) -> int:
    """Whole minutes of decimal hours, rounded up."""
    return ceil(hours * 60 - 1e-6)


def _hours(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if not rest:
        return f"{hours} h"
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def _in_sets(minutes: int, sets: Sequence[SetFact]) -> str:
    """About how many practice sets these minutes are, at the pace of the last few."""
    times = [found.worked_minutes for found in sets[-RECENT_SETS:] if found.worked_minutes]
    if not times:
        return ""
    return f": about {counted(ceil(minutes * len(times) / sum(times)), 'practice set')}"


def _lines(found: SetFact) -> str:
    if not found.lines:
        return "its rubric has no hygiene lines"
    if found.missed is None:
        return "hygiene lines not looked at"
    if not found.missed:
        return f"all {counted(found.lines, 'hygiene line')} signed"
    return f"{counted(len(found.missed), 'line')} missed ({'; '.join(found.missed)})"


def _skill_way(skill: SkillFact) -> str:
    if not skill.sets_left:
        return f"{skill.name}: more clean sets, until the rule decides."
    return f"{skill.name}: at least {counted(skill.sets_left, 'more clean set')}."


def _mastery_way(history: Sequence[MasterySet], asked: MasteryConditions) -> str:
    """The fewest sets without any fault, each on a day of its own, that meet what is missing."""
    inspected = history[-1].inspected if history and history[-1].inspected else USUAL_INSPECTED
    grown = list(history)
    while not all(line.met for line in check_mastery(grown, asked).lines if line.code != "blind"):
        grown.append(_clean_set(grown, inspected))
        if len(grown) - len(history) > asked.sets:
            return f"More fans inspected a set: {asked.inspected} in {counted(asked.sets, 'set')} asked for."
    more = counted(len(grown) - len(history), "more graded set")
    return f"{more} with every criterion at level {asked.level} or above, each on a new day."


def _clean_set(history: Sequence[MasterySet], inspected: int) -> MasterySet:
    levels = {"every criterion": TOP_LEVEL}
    if not history:
        return MasterySet(
            day=date.min,
            gates_passed=True,
            levels=levels,
            faults=0,
            inspected=inspected,
            educator=0,
        )
    day_after = history[-1].day + timedelta(days=1)
    return replace(
        history[-1], day=day_after, gates_passed=True, levels=levels, faults=0, inspected=inspected
    )


def _blind_way(fact: MasteryFact, numbers: Collection[int]) -> str:
    if waiting := [f"{number}" for number in fact.blind_waiting if number in numbers]:
        return f"Set {waiting[-1]} already waits for its second mark."
    return (
        "One of the next sets is marked by a second educator who has not seen the first result. Chance "
        "chooses which; the owner sets how often, under Agreement."
    )


def _last_graded(last: SetFact | None, now: datetime) -> str:
    if last is None:
        return "No graded set yet."
    days = (now - last.graded_at).days
    return f"Last graded set {counted(days, 'day')} ago." if days else "Last graded set today."
