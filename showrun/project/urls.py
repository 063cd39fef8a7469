"""Every address of the service."""

from __future__ import annotations

from django.urls import include, path, re_path

from showrun.project.house_style.page import house_style
from showrun.project.metrics.page import metrics
from showrun.shows.api.problems import bad_request, not_found, server_error

handler400 = bad_request
handler500 = server_error

urlpatterns = [
    path("", include("showrun.shows.web.urls")),
    path("", include("entries.web.urls")),
    path("", include("judging.web.urls")),
    path("", include("reports.web.urls")),
    path("metrics", metrics, name="metrics"),
    path("house-style/", house_style, name="house-style"),
    path("api/v1/", include("showrun.shows.api.urls")),
    path("api/v1/", include("entries.api.urls")),
    path("api/v1/", include("judging.api.urls")),
    path("api/v1/", include("reports.api.urls")),
    re_path(r"^api/", not_found),
]
