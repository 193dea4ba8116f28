"""Addresses of the day."""

from django.urls import path

from keyhook_desk.yard import views

app_name = "yard"
urlpatterns = [path("", views.today, name="today"), path("day/<str:day>/", views.day, name="day")]
