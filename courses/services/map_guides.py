from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from academy.errors import DomainError
from academy.models import Academy, Membership
from academy.services import audit
from courses.mapping.lash_map import MOST_FILAMENTS
from courses.mapping.trade import DIAMETERS, millimetres
from courses.models import MapGuide

EDITABLE = tuple(
    field.name for field in MapGuide._meta.concrete_fields if field.name not in {"id", "academy"}
)


class MapGuideWrong(DomainError):
    def __init__(self, message: str, field: str) -> None:
        super().__init__("map_guide_wrong", message, field=field)


@transaction.atomic
def change_map_guide(
    *, academy: Academy, changes: Mapping[str, object], actor: Membership, now: datetime
) -> MapGuide:
    """Set some of what the academy teaches about maps; the record keeps what differs.

    Briefs do not change by it: only what is said about them.
    """
    Academy.objects.select_for_update().get(pk=academy.pk)
    guide = MapGuide.objects.filter(academy=academy).first() or MapGuide.usual(academy)
    changed = [name for name in EDITABLE if name in changes and getattr(guide, name) != changes[name]]
    before = {name: _plain(getattr(guide, name)) for name in changed}
    for name in changed:
        setattr(guide, name, changes[name])
    _check(guide)
    if changed:
        guide.save()
        after = {name: _plain(getattr(guide, name)) for name in changed}
        audit.record(actor, "change_map_guide", guide, now=now, before=before, after=after)
    return guide


def _check(guide: MapGuide) -> None:
    for diameter, most in guide.programme_limits.items():
        if diameter not in {str(each) for each in DIAMETERS}:
            message = f"{diameter} hundredths of a millimetre is no diameter of the trade. Remove its limit."
            raise MapGuideWrong(message, "programme_limits")
        if isinstance(most, bool) or not isinstance(most, int) or not 1 <= most <= MOST_FILAMENTS:
            message = (
                f"A limit of {most} filaments of {millimetres(int(diameter))} mm is out of range. "
                f"Give 1 to {MOST_FILAMENTS}, or leave it empty for no limit."
            )
            raise MapGuideWrong(message, "programme_limits")
    try:
        guide.full_clean(validate_unique=False)
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise MapGuideWrong(messages[0], field) from error


def _plain(value: object) -> object:
    return str(value) if isinstance(value, Decimal) else value
