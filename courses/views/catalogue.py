from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_members
from courses.selectors.catalogue import skills


@require_safe
@for_members
def catalogue(request: MemberRequest) -> HttpResponse:
    """Skills with their faults and drills: two queries."""
    return render(request, "courses/catalogue.html", {"skills": skills()})
