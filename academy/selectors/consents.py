from dataclasses import dataclass

from academy.models import Consent, Membership, Purpose
from academy.words import CONSENT_WORDINGS, NEWEST_WORDING, Wording


@dataclass(frozen=True, slots=True)
class ConsentState:
    """One purpose and the newest answer, None before the first; ``wording`` is what a yes means today."""

    purpose: Purpose
    wording: Wording
    newest: Consent | None

    @property
    def given(self) -> bool:
        return self.newest is not None and self.newest.given

    @property
    def agreed_to(self) -> Wording | None:
        """The wording of the newest answer, where it is not today's."""
        if self.newest is None or self.newest.wording_version == NEWEST_WORDING:
            return None
        return CONSENT_WORDINGS[self.newest.wording_version][self.purpose.value]


def consents_of(member: Membership) -> dict[str, ConsentState]:
    """Every purpose in the order it is asked, with the newest answer; one query."""
    newest = {row.purpose: row for row in Consent.objects.filter(member=member).order_by("id")}
    return {
        purpose.value: ConsentState(
            purpose, CONSENT_WORDINGS[NEWEST_WORDING][purpose.value], newest.get(purpose.value)
        )
        for purpose in Purpose
    }
