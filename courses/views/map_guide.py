from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_owner
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.map_guide import MapGuideForm
from courses.selectors import map_guides as find
from courses.services.map_guides import change_map_guide


@require_http_methods(["GET", "HEAD", "POST"])
@for_owner
def map_guide(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    form = MapGuideForm(request.POST if request.method == "POST" else None, instance=find.map_guide(academy))
    if form.is_valid():
        try:
            change_map_guide(
                academy=academy, changes=form.changes(), actor=request.member, now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The guide is saved. Every brief is checked by it from now on.")
            return redirect("courses:map-guide")
    return render(request, "courses/map_guide.html", {"form": form})
