"""Pictures are made anew: their pixels alone are kept, and no bomb is unfolded."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

import pytest
from PIL import Image

from curecal.web.forms.reading import photos
from curecal.web.forms.reading.photos import PhotoError, read_photo


def picture(size: tuple[int, int] = (40, 30), form: str = "JPEG", **how: object) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", size, (200, 30, 30)).save(made, form, **how)  # type: ignore[arg-type]
    return made.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few hundred octets that says it is enormous."""

    def chunk(name: bytes, data: bytes) -> bytes:
        body = name + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 100))
        + chunk(b"IEND", b"")
    )


def test_where_and_when_it_was_taken_stays_behind() -> None:
    exif = Image.Exif()
    exif[0x0110] = "Telephone of somebody"
    exif[0x9003] = "2026:10:07 12:00:00"
    taken = picture(exif=exif.tobytes(), comment=b"at home")
    assert b"Telephone of somebody" in taken
    kept = read_photo(io.BytesIO(taken))
    assert b"Telephone" not in kept.data
    assert b"at home" not in kept.data
    with Image.open(io.BytesIO(kept.data)) as opened:
        assert opened.format == "JPEG"
        assert not opened.getexif()


def test_it_stands_upright_without_its_orientation() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    kept = read_photo(io.BytesIO(picture((40, 30), exif=exif.tobytes())))
    with Image.open(io.BytesIO(kept.data)) as opened:
        assert opened.size == (30, 40)


@pytest.mark.parametrize("form", ["PNG", "WEBP", "GIF", "BMP", "TIFF"])
def test_other_forms_become_jpeg(form: str) -> None:
    kept = read_photo(io.BytesIO(picture(form=form)))
    assert kept.data.startswith(b"\xff\xd8\xff")


def test_the_name_is_that_of_the_octets() -> None:
    kept = read_photo(io.BytesIO(picture()))
    assert kept.name == f"pictures/{hashlib.sha256(kept.data).hexdigest()}.jpg"
    assert read_photo(io.BytesIO(picture())) == kept


def test_a_second_file_behind_the_picture_is_gone() -> None:
    page = b"<script>alert(1)</script>PK\x03\x04"
    kept = read_photo(io.BytesIO(picture() + page))
    assert b"<script>" not in kept.data
    assert b"PK\x03\x04" not in kept.data


def test_a_large_picture_is_made_smaller() -> None:
    kept = read_photo(io.BytesIO(picture((5000, 2500))))
    with Image.open(io.BytesIO(kept.data)) as opened:
        assert max(opened.size) <= 2000


@pytest.mark.parametrize("size", [(60_000, 60_000), (5_000, 5_000)])
def test_a_picture_that_would_unfold_to_a_wall_is_not_opened(size: tuple[int, int]) -> None:
    with pytest.raises(PhotoError) as refused:
        read_photo(io.BytesIO(bomb(*size)))
    assert refused.value.code == "picture-large"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7",
        picture()[:60],
        bomb(10, 10),
    ],
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(PhotoError) as refused:
        read_photo(io.BytesIO(data))
    assert refused.value.code == "picture-unreadable"


def test_a_picture_of_too_many_octets_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "LARGEST_PHOTO_BYTES", 100)
    with pytest.raises(PhotoError) as refused:
        read_photo(io.BytesIO(picture()))
    assert refused.value.code == "picture-large"
