"""Addresses of the day and its plan."""

from django.urls import path

from keyhook_desk.yard import around_views, plan_views, views

app_name = "yard"
urlpatterns = [
    path("", views.today, name="today"),
    path("day/<str:day>/", views.day, name="day"),
    path("day/<str:day>/plan/", plan_views.plan, name="plan"),
    path("day/<str:day>/around/", around_views.around, name="around"),
    path("day/<str:day>/plan/live/", plan_views.live, name="plan_live"),
    path("day/<str:day>/plan/proposal/", plan_views.proposal, name="plan_proposal"),
    path("day/<str:day>/plan/task/", plan_views.task, name="plan_task"),
    path("day/<str:day>/plan/change/", plan_views.change, name="plan_change"),
    path("day/<str:day>/plan/mark/", plan_views.mark, name="plan_mark"),
]
