"""Nothing a reader may see promises that work on the eye can do no harm; templates have their own test."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.architecture.house import APPS, ROOT, python_files, short

PROMISE = re.compile(r"\b(un)?safe(ly|ty|r|st)?\b", re.IGNORECASE)
COMMENT = re.compile(r"/\*.*?\*/|^\s*//.*?$", re.DOTALL | re.MULTILINE)
FILES = [
    *python_files(*APPS),
    *(path for app in APPS for path in sorted((ROOT / app / "static").rglob("*.js"))),
    *sorted((ROOT / "templates").rglob("*.typ")),
    *sorted((ROOT / "fixtures").rglob("*.json")),
]


@pytest.mark.parametrize("path", FILES, ids=short)
def test_no_words_of_the_program_promise_too_much(path: Path):
    assert promises(path.suffix, path.read_text()) == []


def test_every_kind_of_file_is_looked_at():
    assert {path.suffix for path in FILES} == {".py", ".js", ".typ", ".json"}


@pytest.mark.parametrize(
    ("suffix", "text"),
    [
        (".py", 'raise Refused("This is a safe load.")'),
        (".py", 'words = f"Safely {done}"'),
        (".js", 'say("Safety first");'),
        (".typ", "#heading[Safe]"),
        (".json", '{"name": "Safer"}'),
    ],
)
def test_a_promise_is_found(suffix: str, text: str):
    assert promises(suffix, text) != []


@pytest.mark.parametrize(
    ("suffix", "text"),
    [
        (".py", '"""Safe when clocks change."""\nfrom x import require_safe  # safe\n'),
        (".py", 'def f():\n    """URL-safe."""\n    return "is_safe"'),
        (".js", "// safe to repeat\ngo();"),
    ],
)
def test_notes_for_developers_are_let_through(suffix: str, text: str):
    assert promises(suffix, text) == []


def promises(suffix: str, text: str) -> list[str]:
    shown = list(_strings(text)) if suffix == ".py" else [COMMENT.sub("", text)]
    return [words for words in shown if PROMISE.search(words)]


def _strings(source: str) -> Iterator[str]:
    """Every text in the code that is not a docstring."""
    tree = ast.parse(source)
    notes = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in notes:
            yield node.value
