"""Pictures drawn for the tests: honest ones, talkative ones, broken ones."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

from PIL import Image, ImageCms

PLACE = b"\x27\x00\x00\x00\x01\x00\x00\x00"  # 39 degrees, as it stands in the file
XMP = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><who>Chidi Abara</who></x:xmpmeta>'
COMMENT = b"taken at the east gate"
MAKER = b"Invented Phones\0"


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 20), **more: object) -> bytes:
    """A red picture whose upper left quarter is blue."""
    return packed(drawn(size), kind, **more)


def drawn(size: tuple[int, int] = (40, 20), mode: str = "RGB") -> Image.Image:
    image = Image.new(mode, size, "red")
    image.paste("blue", (0, 0, size[0] // 2, size[1] // 2))
    return image


def packed(image: Image.Image, kind: str, **more: object) -> bytes:
    file = BytesIO()
    image.save(file, kind, **more)  # type: ignore[arg-type]
    return file.getvalue()


def talkative(size: tuple[int, int] = (40, 20), orientation: int = 1) -> bytes:
    """A JPEG with place, maker and thumbnail in its EXIF, XMP, a colour profile and a comment."""
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))  # type: ignore[arg-type]
    return picture(
        "JPEG", size, exif=exif(orientation), xmp=XMP, comment=COMMENT, icc_profile=srgb.tobytes()
    )


def exif(orientation: int = 1) -> bytes:
    """Three directories, as cameras write them: the picture's, the place's, the thumbnail's."""
    thumbnail = picture(size=(8, 8))
    # Where each lies, counted from the head of eight bytes: two of count, twelve a line, four on.
    main, place, small = 8, 8 + 2 + 3 * 12 + 4, 8 + 2 + 3 * 12 + 4 + 2 + 2 * 12 + 4
    after = small + 2 + 2 * 12 + 4
    maker_at, place_at, thumbnail_at = after, after + len(MAKER), after + len(MAKER) + 24
    lines = [
        *(struct.pack("<H", 3), _line(0x010F, 2, len(MAKER), maker_at)),
        *(_line(0x0112, 3, 1, orientation), _line(0x8825, 4, 1, place), struct.pack("<I", small)),
        *(struct.pack("<H", 2), _line(1, 2, 2, ord("N")), _line(2, 5, 3, place_at)),
        *(struct.pack("<I", 0), struct.pack("<H", 2), _line(0x0201, 4, 1, thumbnail_at)),
        *(_line(0x0202, 4, 1, len(thumbnail)), struct.pack("<I", 0)),
        *(MAKER, PLACE * 3, thumbnail),
    ]
    return b"Exif\0\0II*\0" + struct.pack("<I", main) + b"".join(lines)


def _line(tag: int, kind: int, count: int, value: int) -> bytes:
    return struct.pack("<HHII", tag, kind, count, value)


def parts_of(jpeg: bytes) -> list[int]:
    """The markers of a JPEG up to its picture: what it carries, part by part."""
    assert jpeg[:2] == b"\xff\xd8"
    at, found = 2, []
    while True:
        mark, length = jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4], "big")
        found.append(mark)
        if mark == 0xDA:
            return found
        at += 2 + length


# --- What claims more than it is --------------------------------------------------------------


def png_claiming(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose head claims these sides."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(1000))
    chunks = [(b"IHDR", head), (b"IDAT", body), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in chunks
    )


def jpeg_claiming(width: int, height: int) -> bytes:
    file = bytearray(picture())
    at = file.index(b"\xff\xc0") + 5
    file[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(file)


def webp_claiming(width: int, height: int) -> bytes:
    """A WebP of two small pictures on a ground that claims these sides."""
    more = [Image.new("RGB", (40, 20), "green")]
    file = bytearray(picture("WEBP", save_all=True, append_images=more))
    assert file[12:16] == b"VP8X"
    file[24:30] = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    return bytes(file)
