from django.urls import path

from assessments.api import second_marks, sets

app_name = "api"
urlpatterns = [
    path("sets/<uuid:uid>/", sets.SetView.as_view(), name="set"),
    path("sets/<uuid:uid>/events/", sets.EventsView.as_view(), name="set-events"),
    path("sets/<uuid:uid>/draft/", sets.DraftView.as_view(), name="set-draft"),
    path("second-marks/<uuid:uid>/", second_marks.SecondMarkView.as_view(), name="second-mark"),
    path(
        "second-marks/<uuid:uid>/events/",
        second_marks.SecondEventsView.as_view(),
        name="second-mark-events",
    ),
    path("second-marks/<uuid:uid>/draft/", second_marks.SecondDraftView.as_view(), name="second-mark-draft"),
]
