"""Make a photo small, upright and silent: nothing of it is kept but the picture."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO

import structlog
from PIL import Image, ImageFile, ImageOps

from showrun.errors import InvalidInput, ShowError
from showrun.shows.rules.photos import (
    JPEG_QUALITY,
    KINDS,
    LONG_SIDE_PX,
    PIXELS_MAX,
    UNREADABLE,
    reason_against_pixels,
)

log = structlog.get_logger(__name__)


@dataclass(frozen=True)
class SmallPhoto:
    """A JPEG without a word beside the picture."""

    jpeg: bytes
    width: int
    height: int


def shrink_photo(sent: bytes) -> SmallPhoto:
    """Draw the picture anew as a small JPEG, or refuse what is no picture or too large a one."""
    try:
        with _whole_pictures_only():
            return _shrunk(sent)
    except Image.DecompressionBombError as bomb:
        raise _refused(reason_against_pixels(PIXELS_MAX, 2) or UNREADABLE) from bomb
    except ShowError:
        raise
    except Exception as fault:  # a decoder may fall over a broken file in any way
        log.info("photo unreadable", fault=repr(fault))
        raise _refused(UNREADABLE) from fault


def _refused(reason: str) -> InvalidInput:
    return InvalidInput(reason, code="photo-unreadable", fields={"photo": reason})


# A large picture takes some hundred megabytes while it is open, so a process opens one at a time.
_one_at_a_time = threading.Lock()


@contextmanager
def _whole_pictures_only() -> Iterator[None]:
    """Read no picture that ends too early, though whoever draws papers here lets that pass."""
    with _one_at_a_time:
        before = ImageFile.LOAD_TRUNCATED_IMAGES
        ImageFile.LOAD_TRUNCATED_IMAGES = False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _shrunk(sent: bytes) -> SmallPhoto:
    with _opened(sent) as head:
        reason = reason_against_pixels(*head.size)
        if reason:
            raise _refused(reason)
        head.verify()
    with _opened(sent) as image:  # nothing can be read after `verify`
        # A JPEG can be read at a half, a quarter or an eighth straight away; others stay as is.
        image.draft("RGB", (2 * LONG_SIDE_PX, 2 * LONG_SIDE_PX))
        ImageOps.exif_transpose(image, in_place=True)
        small = _on_white(image)
    kept = BytesIO()
    small.save(kept, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return SmallPhoto(kept.getvalue(), small.width, small.height)


def _opened(sent: bytes) -> Image.Image:
    """Read the head of the file; the picture itself stays packed."""
    return Image.open(BytesIO(sent), formats=KINDS)


def _on_white(image: Image.Image) -> Image.Image:
    """Return the picture small and in plain colours; where one could see through it, white.

    It is painted on a new sheet: place and time, the phone's name, comments and colour profiles
    stay behind with the old one.
    """
    mode = "RGBA" if image.has_transparency_data else "RGB"
    plain = image if image.mode == mode else image.convert(mode)
    plain.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    small = Image.new("RGB", plain.size, "white")
    small.paste(plain, mask=plain.getchannel("A") if mode == "RGBA" else None)
    return small
