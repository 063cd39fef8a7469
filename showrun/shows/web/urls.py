"""Addresses of signing in and of health."""

from django.urls import path

from showrun.shows.web import health, join, sign_in

app_name = "shows"
urlpatterns = [
    path("healthz", health.health, name="health"),
    path("readyz", health.ready, name="ready"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/sent/", sign_in.sent, name="sign-in-sent"),
    path("sign-in/link/", sign_in.sign_in_link, name="sign-in-link"),
    path("sign-in/join/", join.join, name="join"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
]
