"""Hours and rules of programmes in words."""

from django import template

from academy.templatetags.ui import minutes as of_seconds
from courses.models import ProgrammeVersion
from courses.programme.sheet import Line, Names, certificate_lines, gate_lines, hours_lines

register = template.Library()


@register.filter
def hours_minutes(minutes: int) -> str:
    """A duration in minutes: ``2 h 05 min``."""
    return of_seconds(60 * minutes)


@register.simple_tag
def programme_groups(version: ProgrammeVersion, names: Names) -> list[tuple[str, str, tuple[Line, ...]]]:
    """Key, heading and lines of a version's hours, gate and certificate."""
    content = version.content
    return [
        ("hours", "Hours", hours_lines(content)),
        ("gate", "Gate to live models", gate_lines(content.gate, names)),
        ("certificate", "Certificate", certificate_lines(content.certificate, names)),
    ]
