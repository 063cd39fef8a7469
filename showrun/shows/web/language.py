"""In which language a page answers: as its reader chose, else as their browser asks.

What a person is mailed is in the language they last signed in in, or chose while signed in.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import translation
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_POST

from showrun.shows.actions.keep_language import keep_language
from showrun.shows.models import Person
from showrun.shows.web.sign_in import safe_next

# The pages of those who run a show. They speak `OFFICE_LANGUAGE`, whoever reads them.
OFFICE = re.compile(
    r"/shows/[^/]+/(office|turn-in|key)/"
    r"|/entries/\d+/decide/"
    r"|/judges/\d+/report"
    r"|/(paper-cards|held|concerns|rig-reports|questions|classes|results)/"
    r"|/photos/[^/]+/remove/"
)


def language_for(request: HttpRequest) -> str:
    """Return the language of the answer; the office's pages have one until theirs is whole."""
    if settings.OFFICE_LANGUAGE and OFFICE.match(request.path_info):
        return str(settings.OFFICE_LANGUAGE)
    return str(translation.get_language_from_request(request))


class LanguageMiddleware:
    """Speaks the reader's language while their request is answered, and says so in the headers.

    What runs beside a request, workers and commands, speaks the language of the settings.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        language = language_for(request)
        with translation.override(language):
            answer = self.get_response(request)
        answer.headers.setdefault("Content-Language", language)
        patch_vary_headers(answer, ("Accept-Language", "Cookie"))
        return answer


@require_POST
def choose_language(request: HttpRequest) -> HttpResponse:
    """Keep the language chosen in a page's foot, and go back to that page."""
    answer = redirect(safe_next(request, "back"))
    chosen = request.POST.get("language", "")
    if chosen in dict(settings.LANGUAGES):
        if isinstance(request.user, Person):
            keep_language(person=request.user, language=chosen)
        answer.set_cookie(
            settings.LANGUAGE_COOKIE_NAME,
            chosen,
            max_age=settings.LANGUAGE_COOKIE_AGE,
            secure=request.is_secure(),
            httponly=True,
            samesite="Lax",
        )
    return answer
