from django.urls import path

from courses import views

app_name = "courses"
urlpatterns = [
    path("catalogue/", views.catalogue, name="catalogue"),
    path("heads/", views.head_list, name="head-list"),
    path("heads/new/", views.head_new, name="head-new"),
    path("heads/<int:head_id>/", views.head_edit, name="head-edit"),
    path("heads/<int:head_id>/strip/", views.head_strip, name="head-strip"),
    path("heads/<int:head_id>/retire/", views.head_retire, name="head-retire"),
    path("briefs/", views.brief_list, name="brief-list"),
    path("briefs/new/", views.brief_new, name="brief-new"),
    path("briefs/<int:brief_id>/", views.brief, name="brief"),
    path("briefs/<int:brief_id>/edit/", views.brief_edit, name="brief-edit"),
    path("briefs/<int:brief_id>/retire/", views.brief_retire, name="brief-retire"),
]
