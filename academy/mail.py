"""The one door to e-mail."""

from dataclasses import dataclass
from email.utils import formataddr, make_msgid
from typing import Any

from django.conf import settings
from django.core.mail import BadHeaderError, EmailMultiAlternatives
from django.template import Context, Engine
from django.template.loader import render_to_string


@dataclass(frozen=True, slots=True)
class Letter:
    """One message to one person. ``folder`` names its templates: subject.txt, body.txt, body.html.

    ``entry``: an appointment to put into a calendar, with the ``method`` of RFC 5546 that it is sent with.
    """

    folder: str
    name: str
    address: str
    context: dict[str, Any]
    entry: bytes = b""
    method: str = ""


def send(letter: Letter) -> None:
    """Send at once; raises the mail server's error, or BadHeaderError for a name of two lines. For tasks."""
    if not _is_one_line(letter.name + letter.address):
        raise BadHeaderError("A name or an address of more than one line would add headers.")
    context = {"site_url": settings.SITE_URL, "name": letter.name, **letter.context}
    context["subject"] = " ".join(_plain(f"emails/{letter.folder}/subject.txt", context).split())
    message = EmailMultiAlternatives(
        subject=context["subject"],
        body=_plain(f"emails/{letter.folder}/body.txt", context),
        to=[formataddr((letter.name, letter.address))],
        headers={"Message-ID": make_msgid(domain=_own_domain()), "Auto-Submitted": "auto-generated"},
    )
    message.attach_alternative(render_to_string(f"emails/{letter.folder}/body.html", context), "text/html")
    if letter.entry:
        message.attach_alternative(letter.entry.decode(), f"text/calendar; method={letter.method}")
    message.send()


def _is_one_line(text: str) -> bool:
    return not set(text) & set("\r\n\0")


def _plain(template: str, context: dict[str, Any]) -> str:
    """A text part: what HTML would escape stands as it is."""
    return str(Engine.get_default().get_template(template).render(Context(context, autoescape=False)))


def _own_domain() -> str:
    return settings.DEFAULT_FROM_EMAIL.rsplit("@", 1)[-1].rstrip("> ")
