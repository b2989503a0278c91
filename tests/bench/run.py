"""`make bench`: measures the system check, pages on both databases, and every computation with a bench."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

from tests.services import servers

ROOT = Path(__file__).resolve().parent.parent.parent
CHECKS = 5
ON_BOTH_DATABASES = ("bench_pages", "bench_check_page")


def main() -> int:
    python, load = sys.version.split()[0], os.getloadavg()[0]
    print(f"Python {python}, {os.cpu_count()} processors, load {load:.1f} at the start")
    with tempfile.TemporaryDirectory(prefix="fanlight-bench-") as folder:
        failed = _print_check(folder)
        failed += _manage("collectstatic", "--no-input", "--verbosity=0", folder=folder)
        for module in ON_BOTH_DATABASES:
            failed += _run(module, _environment(folder))
            failed += _run_on_postgresql(module, folder)
        for bench in sorted(Path(__file__).parent.glob("bench_*.py")):
            if bench.stem not in ON_BOTH_DATABASES:
                failed += _run(bench.stem, _environment(folder))
    return failed


def _run_on_postgresql(module: str, folder: str) -> int:
    try:
        with servers.postgres() as url:
            return _run(module, _environment(folder, DATABASE_URL=url))
    except servers.ServiceUnavailable as error:
        print(f"\n{module} on postgresql: NOT MEASURED. {error}")
        return 1


def _print_check(folder: str) -> int:
    times, failed = [], 0
    for _ in range(CHECKS):
        began = perf_counter()
        failed += _manage("check", folder=folder)
        times.append(perf_counter() - began)
    print(f"manage.py check: {median(times):.2f} s of wall time, median of {CHECKS}")
    return failed


def _manage(*arguments: str, folder: str) -> int:
    command = [sys.executable, "manage.py", *arguments]
    environment = _environment(folder)
    return subprocess.run(
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=False
    ).returncode


def _run(module: str, environment: dict[str, str]) -> int:
    sys.stdout.flush()
    return subprocess.run(
        [sys.executable, "-m", f"tests.bench.{module}"], cwd=ROOT, env=environment, check=False
    ).returncode


def _environment(folder: str, **more: str) -> dict[str, str]:
    """The settings of the demo, on a database to throw away."""
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    return {
        **kept,
        "DJANGO_SETTINGS_MODULE": "academy.settings",
        "FANLIGHT_DEMO": "1",
        "FANLIGHT_DATA_DIR": folder,
        "FANLIGHT_HOSTS": "127.0.0.1,localhost,testserver",
        "FANLIGHT_LOG_LEVEL": "ERROR",
        **more,
    }


if __name__ == "__main__":
    sys.exit(main())
