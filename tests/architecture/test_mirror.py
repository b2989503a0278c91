"""tests/ mirrors the source: same path, prefix ``test_``."""

from tests.architecture.house import APPS, PURE, ROOT, python_files, short

MIRRORED = [f"{app}/{room}" for app in APPS for room in ("services", "selectors")] + list(PURE)


def test_every_service_selector_and_computation_has_its_test_file():
    expected = {
        short(path): ROOT / "tests" / path.relative_to(ROOT).with_name(f"test_{path.name}")
        for path in python_files(*MIRRORED)
        if path.name != "__init__.py"
    }
    assert expected, "no module found: the rooms have moved and this test no longer looks at them"
    assert [module for module, mirror in expected.items() if not mirror.exists()] == []
