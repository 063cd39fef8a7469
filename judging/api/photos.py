"""A judge's photos: the phone sends one at a time, and fetches its own again."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import IO, Any
from uuid import UUID

from django.core.exceptions import SuspiciousOperation
from django.core.files.uploadedfile import InMemoryUploadedFile, UploadedFile
from django.core.files.uploadhandler import FileUploadHandler
from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ParseError
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.parsers import DataAndFiles, MultiPartParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.throttling import ScopedRateThrottle

from judging.actions.keep_photo import demand_bytes, keep_photo
from judging.api.authentication import DeviceAuthentication, IsDevice, phone_of
from judging.queries.photos import photo_of
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.view import View
from showrun.shows.rules.photos import BYTES_MAX

# What stands around the photo: three short fields, and the lines between the parts.
AROUND_IT_BYTES = 64_000
LARGEST_ID = 2**63 - 1


class PhotoIn(serializers.Serializer):
    """A photo of a row, or of the wagon as a whole."""

    id = serializers.UUIDField(help_text="Made by the phone.")
    entry = serializers.IntegerField(min_value=1, max_value=LARGEST_ID)
    criterion = serializers.CharField(max_length=80, allow_blank=True, default="")
    photo = serializers.FileField(allow_empty_file=True, help_text="A JPEG, PNG or WebP.")


class PhotoOut(serializers.Serializer):
    """The photo as it is kept."""

    id = serializers.UUIDField()
    width = serializers.IntegerField()
    height = serializers.IntegerField()
    size_bytes = serializers.IntegerField()


class PhotoInMemory(FileUploadHandler):
    """Holds the photo in memory, and reads no further than a photo may be long."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self.held = BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        demand_bytes(start + len(raw_data))
        self.held.write(raw_data)

    def file_complete(self, file_size: int) -> UploadedFile:
        self.held.seek(0)
        return InMemoryUploadedFile(
            self.held, self.field_name, self.file_name or "photo", None, file_size, None
        )


class PhotoParser(MultiPartParser):
    """Reads a form with one photo; one that says it is too large is not read at all."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> DataAndFiles:
        request = (parser_context or {})["request"]
        demand_bytes(int(request.META["CONTENT_LENGTH"]) - AROUND_IT_BYTES)
        request.upload_handlers = [PhotoInMemory()]
        try:
            return super().parse(stream, media_type, parser_context)
        except SuspiciousOperation as fault:  # fields that are no fields of ours
            raise ParseError(f"This form cannot be read: {fault}") from fault


class AsItIs(DefaultContentNegotiation):
    """A photo is a JPEG and a refusal JSON, whatever is asked for."""

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        return renderers[0], renderers[0].media_type


class Photos(View):
    """Keep a photo; sent again, the answer is the same."""

    authentication_classes = (DeviceAuthentication,)
    permission_classes = (IsDevice,)
    parser_classes = (PhotoParser,)
    throttle_classes = (ScopedRateThrottle,)
    throttle_scope = "photos"

    @extend_schema(request=PhotoIn, responses={201: PhotoOut, 200: PhotoOut})
    @refuses(
        "criterion-not-yours",
        "not-your-card",
        "photo-id-reused",
        "photo-too-large",
        "photo-unreadable",
        "photos-full",
    )
    def post(self, request: Request) -> Response:
        given = read_body(PhotoIn, request)
        kept = keep_photo(
            device=phone_of(request),
            photo_id=given["id"],
            entry_id=given["entry"],
            criterion=given["criterion"],
            sent=given["photo"].read(BYTES_MAX + 1),
            at=timezone.now(),
        )
        return Response(PhotoOut(kept.photo).data, status=201 if kept.new else 200)


class OnePhoto(View):
    """A judge's own photo."""

    authentication_classes = (DeviceAuthentication,)
    permission_classes = (IsDevice,)
    content_negotiation_class = AsItIs

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, photo_id: UUID) -> FileResponse:
        photo = photo_of(phone_of(request).judge, photo_id)
        if photo is None:
            raise NotFound(_("This judge has no such photo."))
        try:
            file = photo.file.open("rb")
        except FileNotFoundError as lost:
            raise NotFound(_("The file of this photo is lost.")) from lost
        headers = {"Cache-Control": "private, no-store"}
        return FileResponse(file, content_type="image/jpeg", headers=headers)
