"""Every door of the house. The upper floors are named as strings: this floor does not look up."""

from django.urls import include, path

from academy import views

house = [
    path("", views.home, name="home"),
    path("choose/", views.choose, name="choose"),
    path("people/", views.people, name="people"),
    path("people/invite/", views.invite, name="invite"),
    path("people/<int:member_id>/", views.person, name="person"),
    path("people/<int:member_id>/leave/", views.person_leave, name="person-leave"),
    path("people/invitations/<int:invitation_id>/withdraw/", views.invitation_withdraw, name="invitation-withdraw"),
    path("people/cohorts/new/", views.cohort_new, name="cohort-new"),
    path("people/cohorts/<int:cohort_id>/", views.cohort_edit, name="cohort-edit"),
    path("invitation/<str:token>/", views.invitation_accept, name="invitation-accept"),
    path("academy/", views.academy_settings, name="settings"),
]
urlpatterns = [
    path("", include((house, "academy"))),
    path("", include("courses.urls")),
    path("", include("assessments.urls")),
    path("api/v1/", include("assessments.api.urls")),
    path("account/", include("allauth.urls")),
]
handler403 = "academy.views.forbidden"
