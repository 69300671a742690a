"""Pictures as telephones send them, made anew: no place, no time, no second file inside.

What is kept are the pixels alone. A picture that would unfold to more than a wall is not opened.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from typing import TYPE_CHECKING

from PIL import Image, ImageOps, UnidentifiedImageError

from curecal.records import Record, record

if TYPE_CHECKING:
    from typing import IO

LARGEST_PHOTO_BYTES = 12 << 20
LARGEST_PIXELS = {"JPEG": 128_000_000, "MPO": 128_000_000}
"""What the largest telephones take: of a JPEG only a part is unfolded, whatever its size."""
_LARGEST_WHOLE_PIXELS = 24_000_000
_LONGEST_SIDE = 2000
_QUALITY = 85
_FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP", "TIFF")
FOLDER = "pictures"


class PhotoError(Exception):
    """The file is no picture that can be kept; `code` says why."""

    def __init__(self, code: str) -> None:
        self.code = code
        super().__init__(code)


@record
class Photo(Record):
    """A picture made anew: its name by its octets, as the log and the book have it."""

    name: str
    data: bytes


def read_photo(stream: IO[bytes]) -> Photo:
    """Return a picture as JPEG, upright, without anything but its pixels.

    Args:
        stream: What was sent.

    Returns:
        The picture with its name.

    Raises:
        PhotoError: it is too large, or no picture.
    """
    data = stream.read(LARGEST_PHOTO_BYTES + 1)
    if len(data) > LARGEST_PHOTO_BYTES:
        raise PhotoError("picture-large")
    try:
        upright = _upright(data)
    except Image.DecompressionBombError:
        raise PhotoError("picture-large") from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, MemoryError):
        raise PhotoError("picture-unreadable") from None
    # A new picture: what the old one carried beside its pixels stays behind.
    pixels = Image.new("RGB", upright.size)
    pixels.paste(upright)
    made = io.BytesIO()
    pixels.save(made, "JPEG", quality=_QUALITY, optimize=True)
    octets = made.getvalue()
    return Photo(f"{FOLDER}/{hashlib.sha256(octets).hexdigest()}.jpg", octets)


def _upright(data: bytes) -> Image.Image:
    """Return a picture as it was seen, unfolded only where it is not too large."""
    with warnings.catch_warnings():
        # A bomb is refused by our own bound below, before anything is unfolded.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
            most = LARGEST_PIXELS.get(picture.format or "", _LARGEST_WHOLE_PIXELS)
            if picture.width * picture.height > most:
                raise PhotoError("picture-large")
            picture.draft("RGB", (_LONGEST_SIDE, _LONGEST_SIDE))
            picture.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
            return ImageOps.exif_transpose(picture).convert("RGB")
