"""The import contracts of pyproject.toml hold, so that plain `pytest` tells too."""

from importlinter import cli

from tests.architecture.house import ROOT


def test_code_imports_downwards_only(capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    exit_code = cli.lint_imports(no_cache=True, config_filename=str(ROOT / "pyproject.toml"))
    assert exit_code == 0, capsys.readouterr().out
