"""Where a name and a password come from, and that they are never shown."""

from __future__ import annotations

import traceback
from pathlib import Path

import pytest

from curecal.delivery.caldav.credentials import Credentials, credentials_for
from curecal.errors import SourceError

HOST = "dav.example"
BOTH = {"CURECAL_CALDAV_USER": "robin", "CURECAL_CALDAV_PASSWORD": "sesame"}


def netrc(folder: Path, text: str, mode: int = 0o600) -> Path:
    path = folder / ".netrc"
    path.write_text(text, encoding="utf-8")
    path.chmod(mode)
    return path


def refused(code: str, home: Path | None, **environment: str) -> None:
    with pytest.raises(SourceError) as caught:
        credentials_for(HOST, environment, home=home)
    assert caught.value.code == code
    assert "sesame" not in "".join(traceback.format_exception(caught.value))


def test_the_environment_comes_first(tmp_path: Path) -> None:
    netrc(tmp_path, f"machine {HOST} login sam password other\n")
    assert credentials_for(HOST, BOTH, home=tmp_path) == Credentials("robin", "sesame")


@pytest.mark.parametrize("name", sorted(BOTH))
def test_one_of_two_is_refused(name: str) -> None:
    refused("credentials-half", None, **{name: "sesame"})


def test_a_colon_in_the_name_is_refused(tmp_path: Path) -> None:
    refused("credentials-colon", None, **{**BOTH, "CURECAL_CALDAV_USER": "a:b"})
    netrc(tmp_path, f"machine {HOST} login a:b password sesame\n")
    refused("credentials-colon", tmp_path)


def test_nothing_at_all_is_nobody(tmp_path: Path) -> None:
    assert credentials_for(HOST, {}, home=tmp_path) is None
    assert credentials_for(HOST, {}, home=None) is None


def test_the_entry_of_exactly_this_host(tmp_path: Path) -> None:
    netrc(
        tmp_path,
        f"machine other.example login x password y\nmachine {HOST} login robin password sesame\n"
        "default login d password e\n",
    )
    assert credentials_for(HOST, {}, home=tmp_path) == Credentials("robin", "sesame")
    for other in ("sub.dav.example", "example", "default"):
        assert credentials_for(other, {}, home=tmp_path) is None


def test_a_file_named_by_the_environment(tmp_path: Path) -> None:
    path = netrc(tmp_path, f"machine {HOST} login robin password sesame\n")
    path = path.rename(tmp_path / "secrets")
    assert credentials_for(HOST, {"NETRC": str(path)}, home=None) == Credentials("robin", "sesame")
    refused("netrc-unreadable", None, NETRC=str(tmp_path / "nowhere"))
    refused("netrc-damaged", None, NETRC=str(tmp_path))


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o666, 0o610])
def test_a_file_others_may_read_is_refused(tmp_path: Path, mode: int) -> None:
    path = netrc(tmp_path, f"machine {HOST} login robin password sesame\n", mode)
    refused("netrc-open", tmp_path)
    refused("netrc-open", None, NETRC=str(path))


@pytest.mark.parametrize(
    "text", ["sesame", f"machine {HOST} login robin sesame\n", "machine\udcff sesame"]
)
def test_a_damaged_file_is_not_repeated(tmp_path: Path, text: str) -> None:
    path = tmp_path / ".netrc"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    path.chmod(0o600)
    refused("netrc-damaged", tmp_path)


def test_an_entry_without_a_password_is_none(tmp_path: Path) -> None:
    netrc(tmp_path, f"machine {HOST} login robin\n")
    assert credentials_for(HOST, {}, home=tmp_path) is None


def test_the_password_is_not_shown() -> None:
    assert "sesame" not in repr(Credentials("robin", "sesame"))
