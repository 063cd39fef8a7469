"""A paper's file to whoever was found to be allowed it: the bytes, or a link that soon ends."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import FileResponse, HttpResponse, HttpResponseRedirect

from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _


def hand_out(paper: Paper) -> HttpResponse | FileResponse:
    """Return the file; where files lie in a bucket, the way to it there.

    Whether the visitor may have it was asked before. Raises `NotYet` where there is no file.
    """
    name = str(paper.file.name or "")
    storage: Any = paper.file.storage
    if paper.state != Paper.State.DONE or not name:
        raise NotYet(_not_ready(paper))
    if not storage.exists(name):
        raise NotYet(_("The file of this paper is lost; the show office can draw it again."))
    kind = "application/zip" if paper.ending == "zip" else "application/pdf"
    if settings.FILES_BUCKET:
        asked = {
            "ResponseContentType": kind,
            "ResponseContentDisposition": f'attachment; filename="{paper.download_name}"',
        }
        return HttpResponseRedirect(storage.url(name, parameters=asked))
    answer = FileResponse(
        paper.file.open("rb"), as_attachment=True, filename=paper.download_name, content_type=kind
    )
    return answer


def _not_ready(paper: Paper) -> str:
    if not paper.is_finished:
        return _("The sheet is being made; it will be here in a few minutes.")
    return _("The sheet is not ready; the show office can make it again.")
