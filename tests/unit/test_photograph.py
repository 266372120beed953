"""A photograph on a page shows the pair, and nothing that the camera wrote beside it."""

from io import BytesIO
from typing import Any

import pytest
from PIL import Image, ImageCms
from PIL.PngImagePlugin import PngInfo

from pipeline.errors import PictureError
from pipeline.pictures.photograph import make_photograph

PLANTED = b"PLANTED-SECRET"
WORD = PLANTED.decode()
MAKER, GPS, USER_COMMENT, EXIF_PART, UPRIGHT = 0x010F, 0x8825, 0x9286, 0x8769, 0x0112


def picture_file(
    size: tuple[int, int] = (60, 40), form: str = "JPEG", mode: str = "RGB", **planted: Any
) -> bytes:
    written = BytesIO()
    Image.new(mode, size, **({"color": planted.pop("color")} if "color" in planted else {})).save(
        written, form, **planted
    )
    return written.getvalue()


def camera_data(turn: int = 1) -> Image.Exif:
    """Return EXIF with a maker, a comment and a place, all planted."""
    exif = Image.Exif()
    exif[MAKER], exif[UPRIGHT] = WORD, turn
    exif.get_ifd(EXIF_PART)[USER_COMMENT] = PLANTED
    exif.get_ifd(GPS).update({1: "N", 2: (52.0, 31.0, 7.0), 29: WORD})
    return exif


def with_all_metadata(form: str) -> bytes:
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>" + PLANTED + b"</x:xmpmeta>"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    planted: dict[str, Any] = {"exif": camera_data(), "icc_profile": profile}
    if form == "JPEG":
        planted |= {"comment": PLANTED, "xmp": xmp}
    if form == "WEBP":
        planted |= {"xmp": xmp}
    if form == "PNG":
        texts = PngInfo()
        texts.add_text("Author", WORD)
        texts.add_itxt("XML:com.adobe.xmp", xmp.decode())
        planted |= {"pnginfo": texts}
    return picture_file(form=form, **planted)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_file_with_planted_metadata_holds_it(form: str) -> None:
    assert PLANTED in with_all_metadata(form)  # else the tests below could not fail


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_no_byte_of_what_the_camera_wrote_is_in_the_picture(form: str) -> None:
    assert PLANTED not in make_photograph(with_all_metadata(form), 640).content


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_the_picture_opened_again_has_no_place_time_or_profile(form: str) -> None:
    with Image.open(BytesIO(make_photograph(with_all_metadata(form), 640).content)) as again:
        beside = set(again.info) - {"loop", "background"}  # what WebP says of moving pictures
        assert (dict(again.getexif()), beside) == ({}, set())


def test_a_picture_stands_upright_as_the_camera_says() -> None:
    found = make_photograph(picture_file((60, 40), exif=camera_data(turn=6)), 640)
    assert (found.width, found.height) == (40, 60)


def test_a_large_picture_is_scaled_to_its_longer_side() -> None:
    found = make_photograph(picture_file((1200, 900)), 240)
    assert (found.width, found.height) == (240, 180)


def test_a_small_picture_is_not_blown_up() -> None:
    found = make_photograph(picture_file((60, 40)), 240)
    assert (found.width, found.height) == (60, 40)


def test_the_same_file_makes_the_same_picture() -> None:
    assert make_photograph(picture_file(), 240) == make_photograph(picture_file(), 240)


def test_what_is_transparent_shows_as_white_paper() -> None:
    found = make_photograph(picture_file(form="PNG", mode="RGBA", color=(0, 0, 0, 0)), 240)
    with Image.open(BytesIO(found.content)) as again:
        assert again.getpixel((5, 5)) == (255, 255, 255)


def test_a_picture_of_sixteen_bits_keeps_its_greys() -> None:
    found = make_photograph(picture_file(form="PNG", mode="I;16", color=0x8080), 240)
    with Image.open(BytesIO(found.content)) as again:
        assert again.getpixel((5, 5)) == pytest.approx((128, 128, 128), abs=2)


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_a_picture_in_other_colours_is_shown(mode: str) -> None:
    assert make_photograph(picture_file(mode=mode), 240).width == 60


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"just words",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"GIF89a" + bytes(60),
        picture_file(form="TIFF"),
        picture_file(form="BMP"),
    ],
    ids=["empty", "text", "SVG", "GIF", "TIFF", "BMP"],
)
def test_what_is_no_picture_that_a_page_shows_is_refused(content: bytes) -> None:
    with pytest.raises(PictureError, match="it is no JPEG, PNG or WebP picture"):
        make_photograph(content, 240)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_half_a_picture_is_refused(form: str) -> None:
    whole = BytesIO()
    Image.effect_noise((300, 200), 60).convert("RGB").save(whole, form)
    half = whole.getvalue()[: len(whole.getvalue()) // 2]
    with pytest.raises(PictureError, match="it is damaged or not complete"):
        make_photograph(half, 240)


def test_a_small_file_that_unfolds_to_endless_pixels_is_refused() -> None:
    with pytest.raises(PictureError, match="it has more than 89 million pixels"):
        make_photograph(picture_file((20_000, 20_000), "PNG", mode="1"), 240)
