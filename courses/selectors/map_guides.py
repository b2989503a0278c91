from academy.models import Academy
from courses.models import MapGuide


def map_guide(academy: Academy) -> MapGuide:
    """What this academy teaches; the usual while its owner has not said otherwise. One query."""
    return MapGuide.objects.filter(academy=academy).first() or MapGuide.usual(academy)
