from datetime import datetime

import numpy as np
from django.db import transaction

from academy.models import Academy
from assessments.models import AgreementReport
from assessments.scoring.agreement_report import agreement_findings, found_in
from assessments.selectors.agreement import agreement_data


@transaction.atomic
def compute_agreement(*, academy: Academy, until: datetime, seed: int, now: datetime) -> AgreementReport:
    """Read every mark up to ``until`` and keep what they say; the same marks and seed say the same."""
    data = agreement_data(academy, until=until)
    found = agreement_findings(data.double, data.firsts, data.names, rng=np.random.default_rng(seed))
    return AgreementReport.objects.create(
        academy=academy,
        until=until,
        second_marks=len(data.double),
        newest_at=data.newest_at,
        findings=found_in(found),
        computed_at=now,
    )
