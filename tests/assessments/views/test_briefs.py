from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from courses.services.briefs import revise_brief
from tests.factories.courses import MADE_AT, brief_content, make_brief
from tests.factories.rubrics import starter_rubric


@pytest.fixture
def version(cast):
    return make_brief(cast.academy, cast.ines)


def printed(client, brief_version, **query):
    answer = client.get(reverse("assessments:brief-print", args=[brief_version.brief_id]), query)
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(
        " ".join(page.extract_text().split()) for page in PdfReader(BytesIO(answer.content)).pages
    )
    return answer, text


def test_it_says_what_the_rubric_of_the_brief_inspects(cast, client_for, version):
    starter_rubric(cast.academy, cast.owner)
    answer, text = printed(client_for(cast.ines), version)
    assert "5 fans in each of the 4 zones of each eye, 40 in all" in text
    assert answer["Content-Disposition"] == 'inline; filename="Set brief Soft volume, version 1, A4.pdf"'


def test_without_a_rubric_it_says_so(cast, client_for, version):
    _, text = printed(client_for(cast.ines), version)
    assert "This academy has no published rubric." in text


def test_paper_version_and_stage_are_chosen(cast, client_for, version):
    content = brief_content(filaments=4)
    revise_brief(brief=version.brief, content=content, actor=cast.ines, now=MADE_AT)
    answer, text = printed(client_for(cast.ines), version, paper="a5", version="1", nth_set="4")
    assert "Set brief Soft volume, version 1, A5.pdf" in answer["Content-Disposition"]
    assert "5 × 0.05 mm" in text and "For the 240 min from set 4 on." in text
    _, newest = printed(client_for(cast.ines), version)
    assert "4 × 0.05 mm" in newest


@pytest.mark.parametrize("asked", [{"paper": "a0"}, {"nth_set": "soon"}, {"nth_set": "9" * 30}])
def test_what_cannot_be_read_is_as_if_not_asked(cast, client_for, version, asked):
    plain, _ = printed(client_for(cast.ines), version)
    odd, _ = printed(client_for(cast.ines), version, **asked)
    assert odd.content == plain.content


def test_a_version_that_never_was_is_not_here(cast, client_for, version):
    url = reverse("assessments:brief-print", args=[version.brief_id])
    assert client_for(cast.ines).get(url, {"version": "7"}).status_code == 404
