"""curecal is installed from its source or a wheel: no text asks a package index for its name."""

from __future__ import annotations

import re

import pytest
from doc_outputs import ROOT

BY_NAME = re.compile(r"\b(?:pip|pipx|uv|tool) (?:install|run|add)\b[^&\n]*?(?<![\w/.~-])curecal\b")
PLACES = ((ROOT, "*.md"), (ROOT / "config", "*"), (ROOT / "curecal", "**/*.*"), (ROOT / ".ci", "*"))
TEXTS = [
    path
    for folder, pattern in PLACES
    for path in sorted(folder.glob(pattern))
    if path.suffix in {"", ".md", ".toml", ".py", ".service"} and path.is_file()
]


@pytest.mark.parametrize("folder", ["curecal/data/manual", "curecal/data/text/terminal", "config"])
def test_texts_are_looked_at(folder: str) -> None:
    assert any(path.parent == ROOT / folder for path in TEXTS)


def test_no_text_installs_curecal_by_its_name() -> None:
    found = {
        str(path.relative_to(ROOT)): line.group()
        for path in TEXTS
        for line in BY_NAME.finditer(path.read_text(encoding="utf-8"))
    }
    assert found == {}


@pytest.mark.parametrize(
    "line",
    [
        "Install it: pip install 'curecal[web]'.",
        'python -m pip install -q "curecal"',
        "pipx install --force curecal",
        "uv tool install curecal[paper]",
    ],
)
def test_an_install_by_name_is_noticed(line: str) -> None:
    assert BY_NAME.search(line)
    assert not BY_NAME.search(
        "pip install '.[web]' && .venv/bin/curecal plan; ~/curecal/bin/curecal"
    )
