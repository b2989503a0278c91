"""Two people give one name at the same instant: one has it, the other is told so in a sentence."""

from dataclasses import replace
from functools import partial

import pytest

from courses.models import Head, SetBrief
from courses.services.briefs import BriefNameTaken, add_brief, copy_brief, revise_brief
from courses.services.heads import HeadNameTaken, add_head, change_head
from tests.courses.services.test_heads import CONTENT as HEAD
from tests.factories.courses import brief_content, make_brief, make_head
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def check_one_was_refused(answers, refusal):
    refused = [answer for answer in answers if isinstance(answer, refusal)]
    assert len(refused) == len(answers) - 1
    assert refused[0].details["field"] == "name"


def test_two_heads_of_one_name(cast, now):
    add = partial(add_head, academy=cast.academy, content=HEAD, now=now)
    answers = at_once(partial(add, actor=cast.ines), partial(add, actor=cast.owner))
    check_one_was_refused(answers, HeadNameTaken)
    assert Head.objects.count() == 1


def test_two_heads_renamed_alike(cast, now):
    content = replace(HEAD, name="The good one")
    heads = [make_head(cast.academy, f"Head {number}") for number in (1, 2)]
    change = partial(change_head, content=content, actor=cast.ines, now=now)
    answers = at_once(*(partial(change, head=head) for head in heads))
    check_one_was_refused(answers, HeadNameTaken)


def test_two_briefs_of_one_name(cast, now):
    add = partial(add_brief, academy=cast.academy, content=brief_content(), now=now)
    answers = at_once(partial(add, actor=cast.ines), partial(add, actor=cast.owner))
    check_one_was_refused(answers, BriefNameTaken)
    assert SetBrief.objects.count() == 1


def test_a_copy_and_a_new_name_for_another_brief(cast, now):
    first, second = (make_brief(cast.academy, cast.ines, name=f"Brief {number}") for number in (1, 2))
    answers = at_once(
        partial(copy_brief, version=first, name="Soft lines", actor=cast.ines, now=now),
        partial(
            revise_brief,
            brief=second.brief,
            content=brief_content(name="Soft lines"),
            actor=cast.owner,
            now=now,
        ),
    )
    check_one_was_refused(answers, BriefNameTaken)
