"""Files about a brief: the page a student works from, and what the data form of its supplies means."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import attrgetter
from typing import Any, Literal, get_args
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as format_date

from academy import csv_forms, pdf
from academy.csv_forms import Column
from courses.mapping.checks import Finding
from courses.mapping.drawing import MapDrawing, draw_both
from courses.mapping.lash_map import Direction
from courses.mapping.supplies import FilamentNeed, Supplies
from courses.mapping.svg import description, svg_text
from courses.selectors.brief_load import LoadLine
from courses.selectors.brief_sheet import BriefSheet, CellLine, EyeTable, LayerTable, fan_words

Paper = Literal["a4", "a5"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
SUPPLY_SCHEMA = (
    Column("students", "integer", "Students who do the set once each"),
    Column("item", "string", "filaments or adhesive"),
    Column("diameter_mm", "decimal", "Diameter of the filament in mm", may_be_empty=True),
    Column("curl", "string", "Curl letter of the tray", may_be_empty=True),
    Column("length_mm", "integer", "Length in mm", may_be_empty=True),
    Column("fans", "integer", "Fans of this length, for all students", may_be_empty=True),
    Column("filaments", "integer", "Filaments in these fans", may_be_empty=True),
    Column("with_waste", "integer", "Filaments to have ready, waste included", may_be_empty=True),
    Column("strips", "integer", "Strips that hold them, whole ones", may_be_empty=True),
    Column("trays", "integer", "Trays that hold them, whole ones", may_be_empty=True),
    Column("drops", "integer", "Drops of adhesive, for all students", may_be_empty=True),
)


def set_brief(sheet: BriefSheet, *, sampling: Sequence[str], paper: Paper = "a4") -> bytes:
    """One version of a brief on paper, dated as that version; the same sheet gives the same bytes.

    ``sampling``: sentences on what will be inspected, as the rubric of the brief has it.
    """
    data = set_brief_data(sheet, sampling=sampling, paper=paper)
    return pdf.render("set_brief.typ", data, at=sheet.version.created_at)


def set_brief_name(sheet: BriefSheet, paper: Paper) -> str:
    version = sheet.version
    return f"Set brief {version.brief.name}, version {version.number}, {paper.upper()}.pdf"


def set_brief_data(sheet: BriefSheet, *, sampling: Sequence[str], paper: Paper) -> dict[str, Any]:
    """What the printed brief says, as text ready to print."""
    version, lash_map = sheet.version, sheet.lash_map
    is_uniform = len({planned.fan for planned in lash_map.cells.values()}) == 1
    return {
        "paper": paper,
        "school": version.brief.academy.name,
        "town": version.brief.academy.town,
        "name": version.brief.name,
        "number": version.number,
        "facts": list(_facts(sheet, is_uniform=is_uniform)),
        "eyes": [_eye(drawing) for drawing in draw_both(lash_map)],
        "is_uniform": is_uniform,
        "tables": [_table(sheet, table) for table in sheet.tables],
        "directions": [_direction(each) for each in lash_map.directions],
        "placement": lash_map.placement,
        "checks": [_check(each) for each in sheet.open_findings],
        "silenced": [_check(each) for each in sheet.silenced_findings],
        "loads": [_load(line) for line in sheet.loads],
        "mass_note": sheet.mass_note,
        **_times(sheet),
        "sampling": sampling,
        "supplies": _supplies(sheet.supplies),
        "notes": [line for line in version.notes.splitlines() if line.strip()],
    }


def supplies_metadata(sheet: BriefSheet, file: str) -> dict[str, Any]:
    """CSVW metadata of the supplies as data, kept in ``file``."""
    students = sheet.supplies.students
    title = f"Supplies for {sheet.version}, {students} student{'' if students == 1 else 's'}"
    return csv_forms.metadata(file, title, SUPPLY_SCHEMA)


def _facts(sheet: BriefSheet, *, is_uniform: bool) -> Iterator[tuple[str, str]]:
    version, lash_map = sheet.version, sheet.lash_map
    made_at = version.created_at.astimezone(ZoneInfo(version.brief.academy.time_zone))
    yield "Version", f"{version.number}, {format_date(made_at, 'j F Y')}, by {version.created_by.name}"
    is_told = "textured" in version.style.lower()
    yield "Style", f"{version.style}, textured" if lash_map.textured and not is_told else version.style
    if version.difficulty:
        yield "Written for", version.get_difficulty_display()
    if is_uniform:
        yield "Every fan", fan_words(next(iter(lash_map.cells.values())).fan)
    yield (
        "Coverage",
        f"{version.coverage_percent} % of {version.lashes_per_eye} lashes: "
        f"{version.fans_per_eye} fans an eye, {sheet.fans} in all",
    )
    if lash_map.natural_length_mm:
        yield "Natural lash", f"{lash_map.natural_length_mm} mm"
    if lash_map.eye_shape:
        yield "Eye shape", lash_map.eye_shape
    if lash_map.face_note:
        yield "Face", lash_map.face_note


def _eye(drawing: MapDrawing) -> dict[str, Any]:
    title = f"{drawing.eye.capitalize()} eye, lid closed, as you face the head"
    return {
        "svg": svg_text(drawing, title),
        "tallness": drawing.height / drawing.width,
        "caption": title,
        "alt": description(drawing),
    }


def _table(sheet: BriefSheet, table: EyeTable) -> dict[str, Any]:
    return {
        "eye": table.eye[0].upper() + table.eye[1:],
        "layers": [_layer(sheet, layer) for layer in table.layers],
    }


def _layer(sheet: BriefSheet, table: LayerTable) -> dict[str, Any]:
    return {
        "name": table.layer[0].upper() + table.layer[1:],
        "fans": f"{table.fans} fans an eye",
        "cells": [_cell(sheet, line) for line in table.cells],
    }


def _cell(sheet: BriefSheet, line: CellLine) -> dict[str, Any]:
    """Every length of the mix with its share and its fans, also where the plan has none of it."""
    planned, by_length = sheet.lash_map.cells[line.key], dict(line.by_length)
    return {
        "zone": line.zone,
        "lengths": [
            (f"{part.length_mm} mm", f"{part.share} %", str(by_length.get(part.length_mm, 0)))
            for part in planned.lengths
        ],
        "fan": line.fan,
    }


def _direction(each: Direction) -> str:
    ends = {0: "inner corner", 100: "outer corner"}
    place = ends.get(each.along_percent, f"{each.along_percent} % of the way from the inner corner")
    if not each.degrees:
        return f"{place}: straight"
    return f"{place}: {abs(each.degrees)}° {'outwards' if each.degrees > 0 else 'towards the nose'}"


def _check(found: Finding) -> dict[str, str]:
    return {
        "severity": found.severity.capitalize(),
        "where": found.where,
        "reason": found.reason,
        "note": found.silenced_note,
    }


def _load(line: LoadLine) -> dict[str, str]:
    return {
        "where": line.where,
        "fan": fan_words(line.fan),
        "percent": f"{line.ruling.percent} % of one {line.reference_mm} mm extension of the same length.",
        "mixed": _mixed_words(line),
        "ceiling": line.ceiling_words,
        "ruling": line.ruling_words,
        "over": f"{line.ruling.over_by} over the limit." if line.is_over else "",
        "mass": line.mass_words,
    }


def _mixed_words(line: LoadLine) -> str:
    """Nothing while every zone has one length: then the load is that of the fan."""
    percents = sorted({mix.percent for mix in line.mixes})
    if percents == [line.ruling.percent]:
        return ""
    told = f"{percents[0]} %" if len(percents) == 1 else f"{percents[0]} to {percents[-1]} %"
    return f"With its lengths mixed {told} of one as long as the longest of the mix."


def _times(sheet: BriefSheet) -> dict[str, Any]:
    return {
        "stages": [(f"set {row.from_set}", f"{row.minutes} min", row.pace) for row in sheet.stages],
        "stage": {"from_set": sheet.stage.from_set, "minutes": sheet.stage.minutes},
        "check_minutes": sheet.check_minutes,
        "times": [
            {
                "eye": eye[0].upper() + eye[1:],
                "rows": [
                    (row.layer.removesuffix(" layer"), row.zone, str(row.fans), row.lasts, row.done_by)
                    for row in rows
                ],
            }
            for eye, rows in groupby(sheet.times, key=attrgetter("eye"))
        ],
    }


def _supplies(supplies: Supplies) -> dict[str, Any]:
    return {
        "rows": [_need(need) for need in supplies.filaments],
        "drops": supplies.adhesive_drops,
    }


def _need(need: FilamentNeed) -> tuple[str, ...]:
    kind = f"{need.diameter_mm} mm, curl {need.curl}"
    counts = (need.fans, need.filaments, need.with_waste, need.strips)
    return (kind, f"{need.length_mm} mm", *(str(count) for count in counts))
