"""What may stand in the repository: a fixed top level, no machine's paths, no registry's address."""

import ast
import json
import re
from collections.abc import Iterator

from tests.architecture.house import APPS, ROOT, python_files, repository_files, short, text_of

TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "SECURITY.md"),
    *("manage.py", "pyproject.toml", "Makefile", "compose.yaml", "requirements.txt", "requirements-dev.txt"),
    *("academy", "courses", "assessments", "templates", "tests", "fixtures", "deploy"),
}
FOLDERS_OF_ONE_MACHINE = re.compile(r"(?<![\w.])/(?:root|work|Users/\w+|home/\w+|tmp/\w+)/")
# Written in pieces, so that this file does not name what it forbids.
REGISTRIES = re.compile(
    r"\b(?:" + "|".join(["py" + r"pi\.", "python" + "hosted", "npm" + r"js\.", r"registry\.\w+\.\w+"]) + ")"
)
PROMISES_TOO_MUCH = re.compile(r"\bsafe(ly|ty|r|st)?\b", re.IGNORECASE)


def test_the_top_level_is_fixed():
    names = {path.relative_to(ROOT).parts[0] for path in repository_files()}
    assert {name for name in names if not name.startswith(".")} - TOP_LEVEL == set()


def test_no_file_names_a_package_registry():
    assert _files_that_say(REGISTRIES) == []


def test_no_file_names_a_folder_of_one_machine():
    assert _files_that_say(FOLDERS_OF_ONE_MACHINE) == []


def test_no_third_party_bundle_or_font_is_committed():
    bundles = (".woff", ".woff2", ".ttf", ".otf", ".min.js", ".min.css", ".whl", ".so")
    assert [short(path) for path in repository_files() if path.name.endswith(bundles)] == []


def test_no_sentence_in_the_code_uses_the_word_that_promises_too_much():
    found = [
        f"{short(path)}:{line} {text}"
        for path in python_files(*APPS)
        for line, text in _sentences(ast.parse(path.read_text()))
        if PROMISES_TOO_MUCH.search(text)
    ]
    assert found == []


def test_no_reference_data_or_document_uses_the_word_that_promises_too_much():
    shown = [
        path
        for path in repository_files()
        if path.suffix in {".json", ".typ"} and path.relative_to(ROOT).parts[0] in {"fixtures", "templates"}
    ]
    assert [short(path) for path in shown if PROMISES_TOO_MUCH.search(path.read_text())] == []


def test_the_log_ins_of_the_readme_are_those_of_the_demo():
    readme, demo = (ROOT / "README.md").read_text(), ROOT / "fixtures" / "demo"
    school = json.loads((demo / "school.json").read_text())
    known = set(re.findall(r"[\w.]+@marramlane\.example", "".join(p.read_text() for p in demo.iterdir())))
    told = set(re.findall(r"[\w.]+@marramlane\.example", readme))
    assert len(told) == 3 and told <= known
    assert school["password"] in readme


def _files_that_say(pattern: re.Pattern[str]) -> list[str]:
    return [short(path) for path in repository_files() if pattern.search(text_of(path) or "")]


def _sentences(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """String literals with more than one word, docstrings left out: what a person might be shown."""
    docstrings = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or id(node) in docstrings:
            continue
        if isinstance(node.value, str) and " " in node.value.strip():
            yield node.lineno, node.value
