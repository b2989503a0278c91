"""Letters: two parts that say the same, headers of ours only, nothing fetched from elsewhere."""

import re
from email import message_from_bytes, policy

import pytest
from django.core import mail
from django.core.mail import BadHeaderError
from django.utils import timezone

from academy.emails import invitation_letter
from academy.mail import Letter, send
from academy.models import Role
from academy.services.invitations import invite_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def letter(cast):
    cast.academy.name = "Marram & O'Lane <b>School</b>"
    cast.academy.save()
    return invitation_letter(
        invite_person(
            actor=cast.owner,
            name="Zoë Ngũgĩ",
            email="zoe@people.example",
            role=Role.STUDENT,
            cohort=None,
            now=timezone.now(),
        )
    )


def sent(letter):
    """The letter as a reader of mail sees it, read by the standard library's strict parser."""
    send(letter)
    message = message_from_bytes(mail.outbox[-1].message().as_bytes(linesep="\r\n"), policy=policy.default)
    assert message.defects == []
    return message


def test_headers_follow_the_standards_for_automatic_mail(letter):
    message = sent(letter)
    assert message["Auto-Submitted"] == "auto-generated"  # RFC 3834 section 5
    assert message["Message-ID"].endswith("@fanlight.example>")  # RFC 5322 section 3.6.4
    assert message["Date"].datetime is not None
    assert message["To"].addresses[0].display_name == "Zoë Ngũgĩ"
    assert len(message["From"].addresses) == 1


def test_plain_text_comes_first_and_says_the_same_as_the_html(letter):
    message = sent(letter)
    assert message.get_content_type() == "multipart/alternative"  # RFC 2046 section 5.1.4: plainest first
    plain, rich = message.iter_parts()
    assert (plain.get_content_type(), rich.get_content_type()) == ("text/plain", "text/html")
    for said in (letter.context["link"], "as student", "The link works once"):
        assert said in plain.get_content() and said in rich.get_content()


def test_plain_text_is_not_escaped_and_html_is(letter):
    plain, rich = (part.get_content() for part in sent(letter).iter_parts())
    assert "Marram & O'Lane <b>School</b>" in plain
    assert "Marram &amp; O&#x27;Lane &lt;b&gt;School&lt;/b&gt;" in rich
    assert sent(letter)["Subject"] == "Your place at Marram & O'Lane <b>School</b>"


def test_the_html_names_its_language_and_title_and_fetches_nothing(letter):
    rich = list(sent(letter).iter_parts())[1].get_content()
    assert '<html lang="en">' in rich and re.search(r"<title>.+</title>", rich)
    assert not re.search(r"<(img|link|script|iframe)|url\(|@import", rich)


def test_lines_stay_within_998_octets(letter, cast):
    cast.academy.name = "x" * 120
    raw = (send(letter), mail.outbox[-1].message().as_bytes(linesep="\r\n"))[1]
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998  # RFC 5322 section 2.1.1


@pytest.mark.parametrize("name", ["Zoë\nBcc: all@people.example", "Zoë\r\nBcc: all@people.example", "a\rb"])
def test_a_name_that_would_add_a_header_is_never_sent(letter, name):
    with pytest.raises(BadHeaderError):
        send(Letter(letter.folder, name, letter.address, letter.context))
    assert mail.outbox == []


def test_a_line_end_in_the_subject_becomes_a_blank(letter, cast):
    cast.academy.name = "Marram\r\nBcc: all@people.example"
    message = sent(
        Letter(letter.folder, letter.name, letter.address, {**letter.context, "academy": cast.academy})
    )
    assert message["Bcc"] is None
    assert message["Subject"] == "Your place at Marram Bcc: all@people.example"
