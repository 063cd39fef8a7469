"""Join: the page behind a first link."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache

from showrun.language import gettext as _
from showrun.shows.actions.plan_show import person_for
from showrun.shows.models import Person
from showrun.shows.web.joining import JoinForm, email_in
from showrun.shows.web.let_in import let_in
from showrun.shows.web.limits import ASKS_PER_ADDRESS, limited
from showrun.shows.web.sign_in import safe_next

BACKEND = "sesame.backends.ModelBackend"


@never_cache
@limited("join", ASKS_PER_ADDRESS)
def join(request: HttpRequest) -> HttpResponse:
    """Ask a new person's name, then sign them in; the link is spent once they are known."""
    token = request.POST.get("token") or request.GET.get("token") or ""
    email, following = email_in(token), safe_next(request)
    if email is None or Person.objects.filter(email__iexact=email).exists():
        context = {"next": following, "hide_sign_in": True}
        return render(request, "shows/link_gone.html", context, status=410)
    form = JoinForm(request.POST if request.method == "POST" else None, auto_id="%s")
    if request.method == "POST" and form.is_valid():
        person = person_for(email=email, name=form.cleaned_data["name"])
        let_in(request, person, backend=BACKEND)
        messages.success(request, _("Welcome, {person}. You are signed in.").format(person=person))
        return redirect(following)
    context = {
        "form": form,
        "email": email,
        "token": token,
        "next": following,
        "hide_sign_in": True,
    }
    status = 422 if form.is_bound else 200
    return render(request, "shows/join.html", context, status=status)
