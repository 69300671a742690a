"""Where `new` is tried: an empty folder, without company and book."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def in_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in an empty folder, at a terminal of 80 columns, without company and book."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    monkeypatch.delenv("CURECAL_BOOK", raising=False)
    return tmp_path
