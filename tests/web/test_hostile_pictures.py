"""Pictures that are something else as well: what comes back out of the book is a picture alone."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from typing import TYPE_CHECKING

import pytest
from live_site import BATHROOM, ROOT, LiveSite, live_site
from PIL import Image
from site_walk import client_of, picture

from curecal.book.jobs.pictures import pictures_of
from curecal.book.link_purpose import LinkPurpose

if TYPE_CHECKING:
    from collections.abc import Iterator

    from werkzeug.test import TestResponse

pytestmark = pytest.mark.slow

SCRIPT = b"<script>alert(document.domain)</script>"


@pytest.fixture(scope="module")
def pictured(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with live_site(tmp_path_factory.mktemp("pictured"), (file,)) as site:
        yield site


def encoded(kind: str, **how: object) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (64, 48), (10, 120, 10)).save(made, kind, **how)
    return made.getvalue()


def with_archive(data: bytes) -> bytes:
    made = io.BytesIO(data)
    made.seek(0, io.SEEK_END)
    with zipfile.ZipFile(made, "a") as archive:
        archive.writestr("index.html", SCRIPT)
    return made.getvalue()


def located() -> bytes:
    exif = Image.Exif()
    exif[0x010E] = SCRIPT.decode()
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (44.0, 38.0, 0.0)
    return encoded("JPEG", exif=exif, comment=SCRIPT)


def bomb() -> bytes:
    """Return a picture of 50,000 by 50,000 pixels in some kilobytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 50_001 * 50, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


TAKEN = {
    "markup behind it": encoded("JPEG") + SCRIPT,
    "an archive behind it": with_archive(encoded("PNG")),
    "a place, a comment": located(),
    "a script in its head": encoded("GIF").replace(b"GIF89a", b"GIF87a") + b"/*" + SCRIPT + b"*/",
}
REFUSED = {
    "drawn in markup": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "markup alone": b"<!doctype html>" + SCRIPT,
    "nothing": b"\xff\xd8\xff",
    "cut off": encoded("PNG")[:60],
    "too large to unfold": bomb(),
    "a page description": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n",
}


def sent(site: LiveSite, data: bytes, name: str) -> TestResponse:
    path = f"/p/{site.secret(BATHROOM, LinkPurpose.CREW)}/note/photo"
    client = client_of(site)
    fresh = re.search(r'name="entry_id" value="([^"]+)"', client.get(path).get_data(as_text=True))
    assert fresh is not None
    form = {"entry_id": fresh[1], "file": (io.BytesIO(data), name)}
    return client.post(path, data=form, headers={"Origin": "http://localhost"})


@pytest.mark.parametrize("what", TAKEN)
@pytest.mark.parametrize("name", ["p.jpg", "../../../x.html", "p.svg", 'a"; x=y\r\nSet-Cookie: b'])
def test_what_comes_back_is_the_picture_alone(pictured: LiveSite, what: str, name: str) -> None:
    answer = sent(pictured, TAKEN[what], name)
    assert answer.status_code == 303
    noted = client_of(pictured).get(answer.headers["Location"]).get_data(as_text=True)
    address = re.search(r'href="(/p/[^"]+/picture/[^"]+)"', noted)
    assert address is not None
    shown = client_of(pictured).get(address[1])
    assert shown.mimetype == "image/jpeg"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert b"script" not in shown.data
    assert b"Exif" not in shown.data
    assert not zipfile.is_zipfile(io.BytesIO(shown.data))
    assert Image.open(io.BytesIO(shown.data)).size == (64, 48)
    assert re.fullmatch(r"[0-9a-f]{64}\.jpg", address[1].rpartition("/")[2])


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_picture_is_refused_in_words_and_leaves_nothing(
    pictured: LiveSite, what: str
) -> None:
    with pictured.book.reading() as connection:
        before = pictures_of(connection, BATHROOM)
    answer = sent(pictured, REFUSED[what], "p.jpg")
    assert answer.status_code == 422
    assert 'id="file.problem"' in answer.get_data(as_text=True)
    with pictured.book.reading() as connection:
        assert pictures_of(connection, BATHROOM) == before


def test_a_picture_is_shown_to_no_other_job_and_under_no_other_name(pictured: LiveSite) -> None:
    answer = sent(pictured, picture(), "p.png")
    noted = client_of(pictured).get(answer.headers["Location"]).get_data(as_text=True)
    address = re.search(r'href="/p/[^"]+/picture/([^"]+)"', noted)
    assert address is not None
    own = f"/p/{pictured.secret(BATHROOM, LinkPurpose.CREW)}/picture"
    for name in (f"../picture/{address[1]}", f"x{address[1]}", "..%2f..%2fbook.sqlite3", "%00"):
        assert client_of(pictured).get(f"{own}/{name}").status_code == 404
    owners = f"/p/{pictured.secret(BATHROOM, LinkPurpose.OWNER)}/picture/{address[1]}"
    assert client_of(pictured).get(owners).status_code == 404
