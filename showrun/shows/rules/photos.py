"""How large a photo may be that somebody sends, and what is kept of it."""

from __future__ import annotations

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

BYTES_MAX = 8_000_000
PIXELS_MAX = 40_000_000
LONG_SIDE_PX = 1600
JPEG_QUALITY = 80
# As the library that reads them names them.
KINDS = ("JPEG", "PNG", "WEBP")

UNREADABLE = N_("This is no picture that can be read. Send a JPEG, PNG or WebP photo.")


def reason_against_bytes(size_bytes: int) -> str | None:
    """Say why a photo of this size is not taken, or None when it is.

    Parameters
    ----------
    size_bytes : int
        As sent, before it is made small [bytes].

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> reason_against_bytes(8_000_001)
    'A photo may have at most 8 MB. Take it again with fewer pixels.'
    >>> reason_against_bytes(8_000_000) is None
    True
    """
    if size_bytes <= BYTES_MAX:
        return None
    return _("A photo may have at most {bytes_max} MB. Take it again with fewer pixels.").format(
        bytes_max=BYTES_MAX // 1000000
    )


def reason_against_pixels(width_px: int, height_px: int) -> str | None:
    """Say why a picture that claims these sides is not opened, or None when it is.

    A few bytes can claim a picture that fills the memory of the machine.

    Parameters
    ----------
    width_px, height_px : int
        As the file's head says [pixels].

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> reason_against_pixels(30_000, 30_000)
    'A photo may have at most 40 megapixels. Take it again with fewer pixels.'
    >>> reason_against_pixels(4032, 3024) is None
    True
    """
    if width_px * height_px <= PIXELS_MAX:
        return None
    most = PIXELS_MAX // 1_000_000
    return _("A photo may have at most {most} megapixels. Take it again with fewer pixels.").format(
        most=most
    )
