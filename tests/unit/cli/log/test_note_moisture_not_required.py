"""`note … inspection "result=not required"` of a base: written where it counts, else refused."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from note_samples import Site

JOB = """
[job]
id = "hall"
name = "hall"
timezone = "America/Halifax"
[expected]
air = "20 °C"
below = "heated room"
[people.crew_lead]
name = "R. Example"
[[people.crew]]
name = "Robin Mistral"
[[zone]]
name = "hall"
covering = "vinyl"
[[zone.layer]]
name = "slab"
material = "concrete"
existing = true
since = 2015-06-30
[[zone.layer]]
name = "glue"
material = "reaction adhesive"
[material."reaction adhesive"]
kind = "adhesive"
hardens_by = "reaction"
data_sheet = "rev. 3, p. 2"
wait = { walk = "24 h", heat = "7 d" }
"""
NOW = "2026-12-05T20:00:00Z"
LINE = 'note job.toml inspection layer=slab "result=not required"'
WORD = f'{LINE} --by "R. Example" --note "heated for ten winters"'


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    made = Site(tmp_path, monkeypatch, capsys)
    made.path.write_text(JOB, encoding="utf-8")
    return made


@freeze_time(NOW)
def test_it_is_written_and_the_test_is_no_longer_wanted(site: Site) -> None:
    before = site.json(f'{LINE} --by "Robin Mistral" --note "dry"')
    assert [one["code"] for one in before["findings"]] == ["signature-role"]
    said = site.run(WORD)
    assert "moisture test: not needed (was to do)" in said
    assert [row["result"] for row in tomli.loads(site.text)["log"]] == ["not required"] * 2


@freeze_time(NOW)
@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("since = 2015-06-30", "", "nobody says how old it is"),
        ("since = 2015-06-30", "since = 2026-06-30", "it was not over a year old"),
        ('covering = "vinyl"', 'covering = "wood"', "under wood no base goes without"),
        ("heated room", "ground", "it lies on the ground"),
    ],
)
def test_it_is_refused_with_the_reason(site: Site, old: str, new: str, says: str) -> None:
    site.path.write_text(JOB.replace(old, new), encoding="utf-8")
    before = site.text
    said = " ".join(site.run(WORD, 1).split())
    assert says in said
    assert "Nothing was written." in said
    assert site.text == before


@freeze_time(NOW)
def test_without_a_why_nothing_is_written(site: Site) -> None:
    said = site.run(f'{LINE} --by "R. Example"', 1)
    assert "nobody says why not" in " ".join(said.split())
    assert site.text == JOB
