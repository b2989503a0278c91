from academy.models import DraftOnly, VersionIsPublished


class RubricIsPublished(VersionIsPublished):
    noun = "rubric"


class RubricRow(DraftOnly):
    """A row of a rubric version."""

    refusal = RubricIsPublished

    class Meta:
        abstract = True
