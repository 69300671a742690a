"""The server's program is found where Debian keeps it, which is not in PATH."""

from __future__ import annotations

from typing import TYPE_CHECKING

from book_servers import server_program

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def program(folder: Path) -> str:
    folder.mkdir(parents=True)
    path = folder / "postgres"
    path.touch(0o755)
    return str(path)


def test_the_newest_version_is_found_outside_the_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    kept = tmp_path / "kept"
    assert server_program("postgres", kept) == "postgres"
    program(kept / "9.6" / "bin")
    newest = program(kept / "15" / "bin")
    assert server_program("postgres", kept) == newest
    assert server_program(newest, kept) == newest
    in_path = program(tmp_path / "bin")
    assert server_program("postgres", kept) == in_path
