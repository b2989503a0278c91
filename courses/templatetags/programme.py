"""Hours and rules of programmes in words."""

from django import template

from courses.models import ProgrammeVersion
from courses.programme.sheet import Line, Names, certificate_lines, gate_lines, hours_lines

register = template.Library()


@register.filter
def hours_minutes(minutes: int) -> str:
    """A duration in minutes: ``2 h``, ``2 h 05 min``, ``45 min``."""
    hours, rest = divmod(minutes, 60)
    if hours and rest:
        return f"{hours} h {rest:02d} min"
    return f"{hours} h" if hours else f"{rest} min"


@register.simple_tag
def programme_groups(version: ProgrammeVersion, names: Names) -> list[tuple[str, str, tuple[Line, ...]]]:
    """Key, heading and lines of a version's hours, gate and certificate."""
    content = version.content
    return [
        ("hours", "Hours", hours_lines(content)),
        ("gate", "Gate to live models", gate_lines(content.gate, names)),
        ("certificate", "Certificate", certificate_lines(content.certificate, names)),
    ]
