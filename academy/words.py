"""The words people agree to. A published wording never changes: a better one is a new version."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wording:
    """One purpose: what is asked, what happens with a yes, and what a withdrawal does."""

    name: str
    text: str
    withdrawal: str


CONSENT_WORDINGS: Mapping[str, Mapping[str, Wording]] = {
    "1": {
        "assessment_record": Wording(
            "Assessment record",
            "The academy keeps a record of my practice sets, inspections, marks and hours. It uses this "
            "record to decide what I practise next, whether I may work on a live model, and whether I get a "
            "certificate.",
            "The gate to live models shuts. Records that the law asks the academy to keep stay as they are.",
        ),
        "grading_photo": Wording(
            "Photos for marking",
            "My practice sets may be photographed, so that an educator can mark them and I can see what was "
            "found.",
            "No further photos are taken for marking.",
        ),
        "teaching_use": Wording(
            "Use in teaching",
            "Photos and results of my practice sets may be shown to other students of this academy, without "
            "my name.",
            "They are no longer shown to other students.",
        ),
        "publicity": Wording(
            "Publicity",
            "Photos of my practice sets may be published to show what this academy teaches, without my name.",
            "Nothing further is published. What has been printed cannot be called back.",
        ),
        "practice_model": Wording(
            "Practice model",
            "Fellow students may practise on me under the eyes of an educator, after a consultation and a "
            "patch test as the product label and local law ask for.",
            "Nobody practises on me from now on.",
        ),
    },
}
NEWEST_WORDING = "1"
