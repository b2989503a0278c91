import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from courses.models import Drill, Fault, Skill
from courses.models.catalogue import Coded

CATALOGUE = Path(settings.BASE_DIR) / "fixtures" / "catalogue"


@transaction.atomic
def load_catalogue() -> None:
    """Bring skills, drills and faults up to the fixtures, by code; a second run changes nothing.

    Six queries. A code that has left the fixtures stays: marks and positions may point to it.
    """
    skills = _load(Skill, _rows("skills"))
    drills = _load(Drill, _rows("drills"))
    _load(Fault, [_with_keys(row, skills, drills) for row in _rows("faults")])


def _rows(name: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads((CATALOGUE / f"{name}.json").read_text(encoding="utf-8"))
    return rows


def _with_keys(row: dict[str, Any], skills: dict[str, int], drills: dict[str, int]) -> dict[str, Any]:
    plain = {name: value for name, value in row.items() if name not in {"skill", "drill"}}
    return {**plain, "skill_id": skills[row["skill"]], "drill_id": drills[row["drill"]]}


def _load(model: type[Coded], rows: list[dict[str, Any]]) -> dict[str, int]:
    """The order of the file is the order on screens. Returns the keys by code."""
    fields = [name.removesuffix("_id") for name in (*rows[0], "order") if name != "code"]
    model._default_manager.bulk_create(
        [model(**row, order=place) for place, row in enumerate(rows, 1)],
        update_conflicts=True,
        unique_fields=["code"],
        update_fields=fields,
    )
    return dict(model._default_manager.values_list("code", "pk"))
