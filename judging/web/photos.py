"""Judges' photos in the office: the list by wagon, one photo, and its removal."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.remove_photo import remove_photo
from judging.models import RoundPhoto
from judging.queries.photos import photo_by_id, photos_of, with_rows
from judging.rules.round.photo_limits import MEMORY_AID, NO_FACES
from judging.web.typed import NOTHING_TYPED, Typed
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed

PHOTOS_A_PAGE = 50


def _photos_page(
    request: HttpRequest,
    show: Show,
    number: str | None,
    *,
    typed: Typed = NOTHING_TYPED,
    status: int = 200,
) -> HttpResponse:
    page = Paginator(photos_of(show), PHOTOS_A_PAGE).get_page(number)
    context = {
        "show": show,
        "here": "photos",
        "page": page,
        "lines": [(line, typed.at(line.photo.pk)) for line in with_rows(show, page)],
        "caution": f"{MEMORY_AID} {NO_FACES}",
        "may_remove": allowed(request.user, Deed.REMOVE_PHOTOS, show),
    }
    return render(request, "judging/photos.html", context, status=status)


@never_cache
@require_safe
def photos(request: HttpRequest, slug: str) -> HttpResponse:
    """List the show's photos, wagon by wagon."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    return _photos_page(request, show, request.GET.get("page"))


def _photo(photo_id: UUID) -> RoundPhoto:
    photo = photo_by_id(photo_id)
    if photo is None:
        raise NotFound()
    return photo


@require_safe
def photo_image(request: HttpRequest, photo_id: UUID) -> FileResponse:
    """Hand out a photo to the office of its show; judges have theirs on the phone."""
    photo = _photo(photo_id)
    demand(request.user, Deed.SEE_OFFICE, photo.show)
    try:
        file = photo.file.open("rb")
    except FileNotFoundError as lost:
        raise NotFound(_("The file of this photo is lost.")) from lost
    answer = FileResponse(file, filename=f"photo-{photo.pk}.jpg", content_type="image/jpeg")
    answer["Cache-Control"] = "private, no-store"
    return answer


@require_POST
def remove_photo_view(request: HttpRequest, photo_id: UUID) -> HttpResponse:
    """Remove a photo, with a reason; then back to the page of the list it stood on."""
    photo = _photo(photo_id)
    show = photo.show
    demand(request.user, Deed.REMOVE_PHOTOS, show)
    reason, number = request.POST.get("reason", ""), request.POST.get("page", "")
    try:
        remove_photo(photo=photo, reason=reason, by=person_of(request.user), at=timezone.now())
    except InvalidInput as fault:
        typed = Typed(photo.pk, {"reason": reason}, fault.fields)
        return _photos_page(request, show, number, typed=typed, status=fault.status)
    messages.success(
        request, _("Removed. Who took the photo, and your reason, stay in the record.")
    )
    back = reverse("judging:photos", args=[show.slug])
    return redirect(f"{back}?page={number}" if number.isdecimal() else back)
