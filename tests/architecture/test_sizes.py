"""The ordinary function has 8 lines. None has more than 30, and no file more than 400."""

import ast
from pathlib import Path

from tests.architecture.house import APPS, python_files, short

LINES_A_FILE = 400
LINES_A_FUNCTION = 30
NAMES_WITHOUT_MEANING = {"utils", "util", "helpers", "common", "misc", "signals"}


def test_no_file_is_longer_than_400_lines():
    lengths = {short(path): len(path.read_text().splitlines()) for path in python_files(*APPS, "tests")}
    assert {name: lines for name, lines in lengths.items() if lines > LINES_A_FILE} == {}


def test_no_function_is_longer_than_30_lines_besides_its_docstring():
    lengths = {
        f"{short(path)}:{function.lineno} {function.name}": _lines(function)
        for path in python_files(*APPS, "tests")
        for function in ast.walk(ast.parse(path.read_text()))
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert {name: lines for name, lines in lengths.items() if lines > LINES_A_FUNCTION} == {}


def test_every_module_has_a_name_that_says_what_it_holds():
    modules = {short(path): path.stem for path in python_files(*APPS, "tests")}
    folders = {short(path.parent): path.parent.name for path in python_files(*APPS, "tests")}
    named = {**modules, **folders}
    assert [where for where, name in named.items() if name in NAMES_WITHOUT_MEANING] == []


def test_every_package_opens_with_one_sentence():
    silent = [
        short(path) for path in python_files(*APPS) if path.name == "__init__.py" and not _opening(path)
    ]
    assert silent == []


def test_a_docstring_does_not_count_as_length():
    function = ast.parse('def f():\n    """One.\n\n    Two.\n    """\n    return 1\n').body[0]
    assert isinstance(function, ast.FunctionDef)
    assert _lines(function) == 2


def _opening(path: Path) -> str | None:
    return ast.get_docstring(ast.parse(path.read_text()))


def _lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    total = (function.end_lineno or function.lineno) - function.lineno + 1
    if ast.get_docstring(function) is None:
        return total
    docstring = function.body[0]
    return total - ((docstring.end_lineno or docstring.lineno) - docstring.lineno + 1)
