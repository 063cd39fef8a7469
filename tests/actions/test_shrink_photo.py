"""A photo becomes small, upright and silent, and what is no picture is refused."""

from __future__ import annotations

import subprocess
import sys
from io import BytesIO

import pytest
from PIL import ExifTags, Image, ImageFile

from showrun.errors import InvalidInput
from showrun.shows.actions.shrink_photo import SmallPhoto, shrink_photo
from tests import pictures

RED, BLUE, WHITE = (254, 0, 0), (0, 0, 254), (255, 255, 255)


def opened(photo: SmallPhoto) -> Image.Image:
    image = Image.open(BytesIO(photo.jpeg))
    image.load()
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (photo.width, photo.height))
    return image


def near(found: object, wanted: tuple[int, int, int]) -> bool:
    assert isinstance(found, tuple)
    return all(abs(a - b) < 12 for a, b in zip(found, wanted, strict=True))


def corners(image: Image.Image) -> str:
    """The colours of the four quarters, from the upper left as one reads."""
    right, low = image.width * 3 // 4, image.height * 3 // 4
    spots = [(image.width // 4, image.height // 4), (right, image.height // 4)]
    spots += [(image.width // 4, low), (right, low)]
    named = {"red": RED, "blue": BLUE, "white": WHITE}
    return " ".join(
        next((name for name, rgb in named.items() if near(image.getpixel(spot), rgb)), "?")
        for spot in spots
    )


# --- What it says besides the picture ------------------------------------------------------


def test_the_talkative_photo_of_these_tests_does_say_all_of_it():
    image = Image.open(BytesIO(pictures.talkative(orientation=6)))
    exif = image.getexif()
    assert exif[ExifTags.Base.Make] == "Invented Phones"
    assert exif[ExifTags.Base.Orientation] == 6
    assert exif.get_ifd(ExifTags.IFD.GPSInfo)[2] == (39, 39, 39)
    assert exif.get_ifd(ExifTags.IFD.IFD1)[ExifTags.Base.JpegIFByteCount] > 100
    assert {"xmp", "comment", "icc_profile", "exif"} <= set(image.info)


def test_nothing_is_kept_of_place_maker_thumbnail_profile_and_comment():
    kept = shrink_photo(pictures.talkative((400, 200)))
    # The head every JPEG has, tables, the frame, the scan: no APP1, APP2 or comment.
    assert set(pictures.parts_of(kept.jpeg)) == {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
    assert kept.jpeg.count(b"\xff\xd8") == 1
    for said in (b"Exif", pictures.MAKER[:-1], pictures.PLACE, b"adobe", pictures.COMMENT, b"ICC"):
        assert said not in kept.jpeg
    image = opened(kept)
    assert not image.getexif()
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_nor_of_another_kinds(kind: str):
    sent = pictures.picture(kind, exif=pictures.exif(), xmp=pictures.XMP)
    assert pictures.MAKER[:-1] in sent
    kept = shrink_photo(sent)
    assert set(pictures.parts_of(kept.jpeg)) == {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
    assert pictures.MAKER[:-1] not in kept.jpeg


# --- The picture ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("orientation", "seen"),
    [
        (1, "blue red red red"),
        (2, "red blue red red"),
        (3, "red red red blue"),
        (6, "red blue red red"),
        (8, "red red blue red"),
    ],
)
def test_a_photo_taken_sideways_stands_upright(orientation: int, seen: str):
    kept = opened(shrink_photo(pictures.talkative((80, 40), orientation)))
    assert kept.size == ((40, 80) if orientation in (6, 8) else (80, 40))
    assert corners(kept) == seen


@pytest.mark.parametrize(
    ("sent", "kept"),
    [((4000, 3000), (1600, 1200)), ((900, 3600), (400, 1600)), ((640, 480), (640, 480))],
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_long_side_has_at_most_1600_pixels(
    kind: str, sent: tuple[int, int], kept: tuple[int, int]
):
    small = shrink_photo(pictures.picture(kind, sent))
    assert (small.width, small.height) == kept
    assert corners(opened(small)) == "blue red red red"


def test_where_one_could_see_through_a_png_it_is_white():
    clear = pictures.drawn((400, 200), mode="RGBA")
    clear.paste((0, 0, 0, 0), (200, 100, 400, 200))
    assert corners(opened(shrink_photo(pictures.packed(clear, "PNG")))) == "blue red red white"


@pytest.mark.parametrize("mode", ["L", "P", "1", "CMYK", "LA", "I;16"])
def test_a_picture_in_other_colours_is_read_as_well(mode: str):
    kind = "JPEG" if mode == "CMYK" else "PNG"
    grey = pictures.drawn().convert("L") if mode == "I;16" else pictures.drawn()
    image = opened(shrink_photo(pictures.packed(grey.convert(mode), kind)))
    assert image.size == (40, 20)


# --- What is no picture --------------------------------------------------------------------

SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
NO_PICTURES = {
    "nothing": b"",
    "text": b"This is a text file that calls itself wheel.jpg.\n" * 40,
    "svg": SVG,
    "gif": pictures.picture("GIF"),
    "tiff": pictures.picture("TIFF"),
    "head alone": pictures.picture()[:20],
    "cut JPEG": pictures.picture(size=(400, 300))[:-400],
    "cut PNG": pictures.picture("PNG", (400, 300))[:-60],
    "cut WebP": pictures.picture("WEBP", (400, 300))[:-60],
    "spoiled PNG": pictures.picture("PNG").replace(b"IDAT", b"IDAT\x13", 1),
}


@pytest.mark.parametrize("sent", NO_PICTURES.values(), ids=NO_PICTURES)
def test_what_is_no_picture_is_refused(sent: bytes):
    with pytest.raises(InvalidInput) as refused:
        shrink_photo(sent)
    assert refused.value.code == "photo-unreadable"
    assert "JPEG, PNG or WebP" in refused.value.detail


def test_a_cut_photo_is_refused_where_papers_are_drawn_too(monkeypatch: pytest.MonkeyPatch):
    """The layout engine lets the library read cut pictures, for the whole process."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    for name in ("cut JPEG", "cut PNG"):
        with pytest.raises(InvalidInput):
            shrink_photo(NO_PICTURES[name])
    assert ImageFile.LOAD_TRUNCATED_IMAGES is True


BOMBS = {
    "PNG": pictures.png_claiming(30_000, 30_000),
    "JPEG": pictures.jpeg_claiming(30_000, 30_000),
    "WebP": pictures.webp_claiming(30_000, 30_000),
    "a little too large": pictures.png_claiming(8001, 5000),
    "larger than the library likes": pictures.png_claiming(10_000, 10_000),
}


@pytest.mark.parametrize("sent", BOMBS.values(), ids=BOMBS)
@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
def test_a_few_bytes_that_claim_a_huge_picture_are_refused(sent: bytes):
    assert len(sent) < 2000
    with pytest.raises(InvalidInput) as refused:
        shrink_photo(sent)
    assert refused.value.code == "photo-unreadable"
    assert "40 megapixels" in refused.value.detail


def test_and_they_cost_no_memory(tmp_path):
    """In a process of its own, which may grow by 100 MB at most."""
    for number, sent in enumerate(BOMBS.values()):
        (tmp_path / str(number)).write_bytes(sent)
    program = """
import resource, sys
from pathlib import Path
from showrun.errors import InvalidInput
from showrun.shows.actions.shrink_photo import shrink_photo
from tests.pictures import picture
shrink_photo(picture())
def most(): return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
before, refused = most(), 0
for file in Path(sys.argv[1]).iterdir():
    try:
        shrink_photo(file.read_bytes())
    except InvalidInput:
        refused += 1
print(refused, most() - before)
"""
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program, str(tmp_path)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    refused, grown_kb = done.stdout.split()[-2:]
    assert int(refused) == len(BOMBS)
    assert int(grown_kb) < 100_000
