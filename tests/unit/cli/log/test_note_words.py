"""`note`: it takes the words that outputs print, and the names that are in the job."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from note_samples import Site

from curecal.cli.log.shown_words import choice_as_typed, kind_as_typed
from curecal.toml_files.log_schema import KINDS
from curecal.words.sentences import plain_words

STAGES = {
    "delivery": "on delivery",
    "laid": "after laying",
    "embedded": "after covering",
    "connection": "before connection",
    "in service": "in service",
}


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


def last(site: Site) -> dict[str, object]:
    found: dict[str, object] = tomli.loads(site.text)["log"][-1]
    return found


@pytest.mark.parametrize(("stage", "shown"), STAGES.items())
def test_a_cable_test_is_typed_as_the_log_shows_it(site: Site, stage: str, shown: str) -> None:
    said = site.run(f'note job.toml "cable test" "stage={shown}" --zone hall --by Sam')
    assert (last(site)["kind"], last(site)["stage"]) == ("resistance", stage)
    assert f"cable test in hall: {shown}" in said


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_taken_as_it_is_printed(kind: str) -> None:
    words = plain_words()
    for text in (kind, kind.upper().replace("_", "-"), words.text(f"log.kind.{kind}")):
        assert kind_as_typed(text, words) == kind
    assert kind_as_typed("cabel test", words) == "cabel_test"


def test_every_choice_is_taken_as_it_is_printed(site: Site) -> None:
    words = plain_words()
    for kind, keys in KINDS.items():
        for key in keys:
            for choice in key.choices:
                assert choice_as_typed(choice.upper(), kind, key, words) == choice
    site.run('note job.toml connected "leads=heating wires on the thermostat" --zone hall --by Sam')
    assert last(site)["leads"] == "on the thermostat"
    assert choice_as_typed("x", "correction", KINDS["thermostat"][0], words) == "x"


@freeze_time("2026-10-09T15:00:20Z")
def test_sure_is_said_only_where_somebody_was(site: Site) -> None:
    said = site.run('note job.toml done layer=bed --zone loft --by Sam --at "2026-10-06 12:00"')
    assert "finished in loft: bed" in said
    assert "confirmed" not in said


def test_a_correction_takes_the_shown_words_too(site: Site) -> None:
    own = site.note('resistance stage=laid "conductor=90 Ω" --zone hall --by Sam')
    site.note(f'correction of={own} "stage=after covering" --by Sam')
    assert last(site)["stage"] == "embedded"


@pytest.mark.parametrize(
    ("line", "key", "nearest"),
    [
        ('air "air=64 °F" --by "E. Lectrik"', "by", "E. Lectric"),
        ('air "air=64 °F" --by Sam entered_by=Leo', "entered_by", "Lee"),
        ("stopped cause=frost --by Smm", "by", "Sam"),
    ],
)
def test_a_name_that_is_not_in_the_job_is_refused_with_the_nearest(
    site: Site, line: str, key: str, nearest: str
) -> None:
    before = site.text
    found = site.json(f"note job.toml {line} --zone hall", code=1)
    assert found["written"] is False
    (finding,) = found["findings"]
    assert (finding["code"], finding["path"]) == ("signer-not-in-job", key)
    assert f"did you mean {nearest}" in finding["message"]
    assert site.text == before


def test_in_a_file_such_a_name_is_kept_and_shown(site: Site) -> None:
    entry = '[[log]]\nat = 2026-10-06T08:00:00\nkind = "air"\nzone = "hall"\nair = "64 °F"\n'
    site.path.write_text(site.text + entry + 'by = "Max Stranger"\n', encoding="utf-8")
    assert "Max Stranger" in site.run("log job.toml")


def test_what_somebody_else_typed_is_shown_with_both_names(site: Site) -> None:
    site.path.with_name("sticker.jpg").write_bytes(b"")
    site.run(
        'note job.toml connected locked=yes tagged=yes "leads=off the thermostat" --zone hall '
        '--by Sam "entered_by=R. Example" from=photo photo=sticker.jpg'
    )
    said = " ".join(site.run("log job.toml").split())
    assert "Sam, typed by R. Example, known by: photo, photo sticker.jpg" in said
    (row,) = site.json("log job.toml")["entries"]
    assert (row["by"], row["entered_by"], row["from"], row["photo"]) == (
        "Sam",
        "R. Example",
        "photo",
        "sticker.jpg",
    )
    # Of a statement `from` is its beginning, and stands with its own keys.
    site.note('kept "above=60 °F" from=2026-10-01 to=2026-10-02 --zone hall --by Lee')
    kept = site.json("log job.toml --kind kept")["entries"][0]
    assert (kept["from"], set(kept["keys"])) == (None, {"above", "from", "to"})


def test_a_visit_may_lie_ahead_and_is_known_by_what_it_is_for(site: Site) -> None:
    site.run(
        'note job.toml visit "for=test and connect" "start=2027-03-02 09:00" state=booked '
        "--zone hall --by Sam"
    )
    said = last(site)
    assert said["visit"] == "test and connect, hall"
    assert said["start"].isoformat().startswith("2027-03-02T09:00:00")  # type: ignore[attr-defined]
    site.run("note job.toml visit visit=other state=done --by Sam")
    assert last(site)["visit"] == "other"


def test_a_visit_that_ends_before_it_begins_is_refused(site: Site) -> None:
    before = site.text
    site.run(
        'note job.toml visit for=other "start=2027-03-02 09:00" "end=2027-03-02 08:00" '
        "state=booked --by Sam",
        1,
    )
    assert site.text == before


@pytest.mark.parametrize(
    ("visit", "said"),
    [
        ("", "visit in hall: booked, test and connect, from "),
        ('"visit=test and connect"', "visit in hall: booked, test and connect, from "),
        ("visit=v-2", "visit in hall: id v-2, booked, test and connect, from "),
    ],
)
def test_a_visit_known_by_what_it_is_for_says_so_once(site: Site, visit: str, said: str) -> None:
    site.note(
        f'visit {visit} "for=test and connect" "start=2099-12-04 09:00" state=booked --zone hall'
    )
    listed = " ".join(site.run("log job.toml --kind visit").split())
    assert said.removeprefix("  - ").strip() in listed
