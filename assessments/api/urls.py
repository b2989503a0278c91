from django.urls import path

from assessments.api import sets

app_name = "api"
urlpatterns = [
    path("sets/<uuid:uid>/", sets.SetView.as_view(), name="set"),
    path("sets/<uuid:uid>/events/", sets.EventsView.as_view(), name="set-events"),
    path("sets/<uuid:uid>/draft/", sets.DraftView.as_view(), name="set-draft"),
]
