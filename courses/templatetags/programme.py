"""Hours and rules of programmes in words."""

from decimal import Decimal

from django import template

from academy.templatetags.ui import NOT_KNOWN
from courses.models import ProgrammeVersion
from courses.programme.sheet import Line, Names, certificate_lines, gate_lines, hours_lines, hours_words

register = template.Library()


@register.filter
def hours_minutes(minutes: int) -> str:
    """A duration in minutes: ``2 h``, ``2 h 05 min``, ``45 min``."""
    hours, rest = divmod(minutes, 60)
    if hours and rest:
        return f"{hours} h {rest:02d} min"
    return f"{hours} h" if hours else f"{rest} min"


@register.filter
def decimal_hours(hours: Decimal | None) -> str:
    """``8 h``, ``7.5 h``; a dash when they are not entered."""
    return NOT_KNOWN if hours is None else hours_words(hours)


@register.simple_tag
def programme_groups(version: ProgrammeVersion, names: Names) -> list[tuple[str, str, tuple[Line, ...]]]:
    """Key, heading and lines of a version's hours, gate and certificate."""
    content = version.content
    return [
        ("hours", "Hours", hours_lines(content)),
        ("gate", "Gate to live models", gate_lines(content.gate, names)),
        ("certificate", "Certificate", certificate_lines(content.certificate, names)),
    ]
