"""What a kept answer rests on beside its job: whatever ships and can change what is said."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from curecal.overview import kept_answers
from curecal.shipped import DATA

FILES = sorted(path.relative_to(DATA) for path in DATA.rglob("*.toml"))


def test_there_are_rules_classes_and_texts_of_two_kinds() -> None:
    folders = {path.parent.as_posix() for path in FILES}
    assert {".", "text/readers", "text/terminal"} <= folders


@pytest.mark.parametrize(
    "name", ["rules.toml", "classes.toml", *(str(path) for path in FILES[-3:])]
)
def test_an_answer_no_longer_holds_once_a_shipped_file_has_changed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "curecal" / "data"
    shutil.copytree(DATA, own)
    monkeypatch.setattr(kept_answers, "DATA", own)
    fresh = kept_answers.basis_of_answers.__wrapped__
    before = fresh()
    assert fresh() == before
    (own / name).write_text(
        (own / name).read_text(encoding="utf-8") + "\n# another\n", encoding="utf-8"
    )
    assert fresh() != before
