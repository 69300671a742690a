"""Slips at the command `note`, and its remedies as a person types them."""

from __future__ import annotations

from pathlib import Path

import pytest
from note_samples import Site

from curecal.cli.log.note_shown import as_typed


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


@pytest.mark.parametrize(
    ("remedy", "typed"),
    [
        ('Say which zone: zone = "kitchen".', "Say which zone: --zone kitchen."),
        ('Add zone = "hall bath".', "Add --zone 'hall bath'."),
        ('Add heating = "on".', "Add heating=on."),
        ("Or withdrawn = true.", "Or withdrawn=true."),
        ('Write "kitchen".', 'Write "kitchen".'),
    ],
)
def test_remedies_are_said_as_they_are_typed(remedy: str, typed: str) -> None:
    assert as_typed(remedy) == typed


def test_a_missing_zone_is_asked_for_as_an_option(site: Site) -> None:
    said = site.run("note job.toml inspection result=passed --by 'E. Lectric'", 1)
    assert "--zone hall" in said
    assert "zone = " not in said


def test_an_entry_is_found_without_the_beginning_of_its_id(site: Site) -> None:
    made = site.note("surface 'surface=64 °F' --zone hall")
    site.note(f"correction of={made.removeprefix('e-')} 'surface=62 °F'")
    assert f'of = "{made}"' in site.text


@pytest.mark.parametrize("said", ["photo file=nix.jpg", "note text=seen photo=nix.jpg"])
def test_a_picture_that_is_not_there_is_refused(site: Site, said: str) -> None:
    before = site.text
    site.run(f"note job.toml {said} --zone hall", 2)
    assert "nix.jpg" in site.err
    assert site.text == before
    site.path.with_name("nix.jpg").write_bytes(b"")
    site.note(f"{said} --zone hall")
    assert "nix.jpg" in site.text


def test_an_entry_that_stops_the_floor_is_written_and_ends_well(site: Site) -> None:
    said = site.run("note job.toml stopped cause=other 'reason=it hums' --zone hall --by Lee")
    assert "stopped" in said
    assert 'kind = "stopped"' in site.text
