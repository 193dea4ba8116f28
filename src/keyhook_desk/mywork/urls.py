"""Addresses of people's own lists."""

from django.urls import path

from keyhook_desk.mywork import views

app_name = "mywork"
urlpatterns = [
    path("", views.mine, name="mine"),
    path("photo/<slug:digest>/", views.photo, name="photo"),
    path("<str:day>/<slug:person>/", views.person, name="person"),
    path("<str:day>/<slug:person>/state/", views.state, name="state"),
    path("<str:day>/<slug:person>/mark/", views.mark, name="mark"),
]
