"""Milliseconds to print a certificate never printed before, seconds for a cohort of 500, beside the floors.

No database: the rows are made in memory. Wall time is what somebody waits; processor time says how much of it
was ours when the machine has other work.
"""

from collections.abc import Callable, Sequence
from os import cpu_count, getloadavg
from resource import RUSAGE_SELF, getrusage
from statistics import median
from time import perf_counter, process_time

import django

django.setup()

from academy.qr import qr_svg
from assessments.documents import badge_png, certificate_pdf, certificates_pdf, certificates_zip
from assessments.models import Certificate
from tests.factories.printed_certificates import printed_certificate

WARM_UPS, ROUNDS, COHORT = 10, 60, 500
FLOOR_MS, COHORT_FLOOR_S = 15.0, 8.0
NAMES = ("Ada Marsh", "Nguyễn Thị Hồng Phượng", "Łucja Żółć", "Александра Белозёрская", "김서연")


def main() -> None:
    print(f"load {getloadavg()[0]:.1f} on {cpu_count()} processors at the start")
    rows = [_row(nth) for nth in range(WARM_UPS + ROUNDS)]
    _print_each("certificate with its code", certificate_pdf, rows, FLOOR_MS)
    _print_each("of which the code", lambda row: qr_svg(f"HTTPS://FANLIGHT.EXAMPLE/V/{row.code}"), rows)
    _print_each("badge, not baked", badge_png, rows[: WARM_UPS + 10])
    cohort = [_row(nth) for nth in range(1000, 1000 + COHORT)]
    _print_cohort("one PDF", lambda: certificates_pdf(cohort, title="Certificates of Spring"))
    _print_cohort("one ZIP", lambda: certificates_zip(cohort))
    peak_mb = getrusage(RUSAGE_SELF).ru_maxrss / 1024
    print(f"load {getloadavg()[0]:.1f} at the end, most memory {peak_mb:.0f} MB")


def _row(nth: int) -> Certificate:
    return printed_certificate(f"{NAMES[nth % len(NAMES)]} {nth}", number=nth + 1, code=f"7K2M9QWX{nth:04d}")


def _print_each(
    what: str,
    make: Callable[[Certificate], object],
    rows: Sequence[Certificate],
    floor_ms: float | None = None,
) -> None:
    for row in rows[:WARM_UPS]:
        make(row)
    wall, processor = zip(*(_measured(make, row) for row in rows[WARM_UPS:]), strict=True)
    verdict = "" if floor_ms is None else f" (floor {floor_ms:.0f} ms{_over(median(wall) > floor_ms)})"
    print(
        f"{what}: wall {median(wall):.1f} ms (best {min(wall):.1f}, worst {max(wall):.1f}),"
        f" processor {median(processor):.1f} ms{verdict}"
    )


def _measured(make: Callable[[Certificate], object], row: Certificate) -> tuple[float, float]:
    wall, processor = perf_counter(), process_time()
    make(row)
    return 1000 * (perf_counter() - wall), 1000 * (process_time() - processor)


def _print_cohort(what: str, make: Callable[[], bytes]) -> None:
    wall, processor = perf_counter(), process_time()
    size = len(make())
    wall, processor = perf_counter() - wall, process_time() - processor
    print(
        f"{COHORT} certificates as {what}: wall {wall:.2f} s, processor {processor:.2f} s,"
        f" {size / 1e6:.1f} MB (floor {COHORT_FLOOR_S:.0f} s{_over(wall > COHORT_FLOOR_S)})"
    )


def _over(is_over: bool) -> str:
    return ", missed" if is_over else ""


if __name__ == "__main__":
    main()
