"""Every template compiles, obeys the content security policy and keeps to the words of the house."""

import re
from pathlib import Path

import pytest
from django.template.loader import get_template

from tests.architecture.house import ROOT, app_templates, short

TEMPLATES = app_templates()
TAG_OR_COMMENT = re.compile(r"{#.*?#}|{%\s*comment\b.*?endcomment\s*%}|{[%{].*?[%}]}", re.DOTALL)
HTML_TAG = re.compile(r"<[a-zA-Z][^>]*>", re.DOTALL)
STYLE_OR_HANDLER = re.compile(r"\s(style|on[a-z]+)\s*=", re.IGNORECASE)
DATA_SCRIPT = re.compile(r"""type\s*=\s*["']application/(ld\+)?json["']""")
FOREIGN = re.compile(r"""(?:src|href|action)\s*=\s*["'](?:https?:)?//""", re.IGNORECASE)


def test_there_are_templates_to_look_at():
    assert TEMPLATES


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_template_compiles(path: Path):
    get_template(path.relative_to(ROOT / "templates").as_posix())


@pytest.mark.parametrize("path", TEMPLATES, ids=short)
def test_template_never_uses_the_word_that_promises_too_much(path: Path):
    assert not re.search(r"\bsafe(ly|ty|r|st)?\b", words_in(path.read_text()), re.IGNORECASE)


@pytest.mark.parametrize("path", [path for path in TEMPLATES if "emails" not in path.parts], ids=short)
def test_page_has_nothing_the_content_security_policy_would_block(path: Path):
    assert blocked_in(path.read_text()) == []


@pytest.mark.parametrize(
    "markup",
    [
        '<p style="color: red">',
        '<button type="button"\n  onclick="go()">',
        "<script>go()</script>",
        "<style>p { }</style>",
        '<img src="https://elsewhere.example/a.png">',
    ],
)
def test_blocked_markup_is_found(markup: str):
    assert blocked_in(markup) != []


@pytest.mark.parametrize(
    "markup",
    [
        '<script src="/static/a.js" defer></script>',
        '<script type="application/json">{}</script>',
        '<p class="style" data-one="1">on = off</p>',
    ],
)
def test_allowed_markup_is_let_through(markup: str):
    assert blocked_in(markup) == []


def blocked_in(markup: str) -> list[str]:
    """Inline styles, handlers and scripts, and anything fetched from another host."""
    plain = TAG_OR_COMMENT.sub("", markup)
    return [tag for tag in HTML_TAG.findall(plain) if _is_blocked(tag)]


def words_in(template: str) -> str:
    """What a reader may see: the template without its tags, filters and comments."""
    return TAG_OR_COMMENT.sub(" ", template)


def _is_blocked(tag: str) -> bool:
    name = tag[1:].split(None, 1)[0].rstrip(">/").lower()
    if name == "style" or STYLE_OR_HANDLER.search(tag):
        return True
    if name == "script" and "src=" not in tag and not DATA_SCRIPT.search(tag):
        return True
    return name != "a" and bool(FOREIGN.search(tag))
