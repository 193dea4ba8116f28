"""Addresses of people."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from keyhook_desk.people import views

app_name = "people"
urlpatterns = [
    path("", views.listing, name="listing"),
    path("login/", views.Login.as_view(), name="login"),
    path("logout/", LogoutView.as_view(), name="logout"),
]
