"""A photograph of a pair, made fit for a page: scaled, upright, and without anything but what it shows.

What a camera or a program wrote beside the pixels (place, time, owner, colour profile, comments, previews, XMP) never
comes along: the pixels are copied to a new picture, and only that is written.
"""

import base64
import struct
import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from pipeline.errors import PictureError

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = ("JPEG", "PNG", "WEBP")
QUALITY = 80
"""Of WebP, of 100: the eye finds no difference to the original at the sizes of a page."""

PAPER = (255, 255, 255)
"""What shows where a picture is transparent."""

DAMAGED = (OSError, ValueError, SyntaxError, TypeError, LookupError, AttributeError, ArithmeticError)
"""What Pillow raises for a damaged file, by the part of it that is damaged."""

OTHER_FORMAT = "it is no JPEG, PNG or WebP picture"
REMEDY = "save it again as JPEG."


@dataclass(frozen=True)
class Photograph:
    """A picture as a page holds it: WebP without any other data, its width and height in pixels."""

    content: bytes
    width: int
    height: int

    @property
    def address(self) -> str:
        """Return the picture as the address that a page shows it from (a data URI)."""
        return f"data:image/webp;base64,{base64.b64encode(self.content).decode()}"


def make_photograph(content: bytes, longest: int) -> Photograph:
    """Return the photograph in a file's bytes, its longer side at most `longest` pixels; a small one stays as it is.

    It stands upright as the camera says (EXIF orientation), in the colours of sRGB; of a moving picture it is the
    first. Raises PictureError, which says why the file cannot be shown.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # remarks on odd metadata, none of which is kept
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(BytesIO(content), formats=FORMATS) as opened:
                # of a JPEG, no more pixels are read than are needed
                opened.draft("RGB", (longest * 2, longest * 2))
                shown = _pixels(opened, longest)
    except UnidentifiedImageError:
        raise PictureError(OTHER_FORMAT, REMEDY) from None
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        most = f"{(Image.MAX_IMAGE_PIXELS or 0) / 1e6:.0f}"
        raise PictureError(f"it has more than {most} million pixels", "save it smaller.") from None
    except (*DAMAGED, EOFError, MemoryError, struct.error) as exc:
        raise PictureError("it is damaged or not complete", REMEDY) from exc
    written = BytesIO()
    shown.save(written, "WEBP", quality=QUALITY, method=4)
    return Photograph(written.getvalue(), shown.width, shown.height)


def _pixels(opened: "Image", longest: int) -> "Image":
    """Return what a picture shows, upright and scaled, as a new one that holds nothing else."""
    from PIL import Image, ImageOps

    upright = ImageOps.exif_transpose(opened)
    profile = opened.info.get("icc_profile")
    if upright.mode in ("I;16", "I;16B", "I"):
        upright = upright.convert("I").point(lambda value: value / 257, "L")
    transparent = upright.has_transparency_data
    coloured = upright.convert("RGBA") if transparent else _in_srgb(upright, profile)
    coloured.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    alone = Image.new("RGB", coloured.size, PAPER)
    alone.paste(coloured, mask=coloured.getchannel("A") if transparent else None)
    return alone


def _in_srgb(picture: "Image", profile: bytes | None) -> "Image":
    """Return a picture in the colours of sRGB; one whose profile cannot be read is taken as being in them."""
    from PIL import ImageCms

    if profile and picture.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(BytesIO(profile))
            found = ImageCms.profileToProfile(
                picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            return picture.convert("RGB")
        if found is not None:
            return found
    return picture.convert("RGB")
