"""Says in a page's title that something was refused, wherever the page has its summary of faults.

The title is what is read out first, and it is made before the forms are drawn; so that no page can
forget it, the mark of the summary (`faults.html`) decides.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

MARK, TITLE, SAYS = b" data-faults>", b"<title>", b"Error: "


class ErrorTitleMiddleware:
    """Begins the title with "Error: " on a page that shows a summary of faults."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if answer.streaming or not answer.get("Content-Type", "").startswith("text/html"):
            return answer
        before, title, after = answer.content.partition(TITLE)
        if title and MARK in after and not after.startswith(SAYS):
            answer.content = before + title + SAYS + after
        return answer
