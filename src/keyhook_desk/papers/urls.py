"""Addresses of papers."""

from django.urls import path

from keyhook_desk.papers import views

app_name = "papers"
urlpatterns = [
    path("day/<str:day>/", views.day, name="day"),
    path("<slug:name>/loading/", views.loading, name="loading"),
    path("<slug:name>/cab-card/", views.card, name="cab_card"),
]
