"""Addresses that belong to no slice."""

from django.urls import path

from keyhook_desk.web import views

app_name = "web"
urlpatterns = [
    path("theme/", views.theme, name="theme"),
    path("alive/", views.alive, name="alive"),
    path("worker.js", views.worker, name="worker"),
]
