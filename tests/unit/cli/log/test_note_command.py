"""`note`: what it writes, what it refuses, and what it says then."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from note_samples import SITE, Site, entry

from curecal.cli.log.note import typed
from curecal.instants import Toward
from curecal.job_files import read_job
from curecal.toml_files.log_schema import KINDS
from curecal.trade.site_log import Correction, Kept, MoistureTest, Reading, Resistance


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


# ---- written ----------------------------------------------------------------------------------


@freeze_time("2026-11-20T12:00:00Z")
def test_an_entry_is_written_and_said_with_its_id(site: Site) -> None:
    said = site.run(
        'note job.toml air "air=64 °F" "humidity=58 %" --zone hall --by "R. Example" '
        '--note "by the door" --at "2026-10-06 07:30"'
    )
    (row,) = tomli.loads(site.text)["log"]
    assert site.text.startswith(SITE + "\n[[log]]\nat = 2026-10-06T07:30:00-03:00\n")
    assert said.startswith(f"Added to job.toml as {row['id']}:\nTue 6 Oct\n")
    assert "\n  07:30  air in hall: 64 °F, humidity 58 %\n         note: by the door\n" in said
    assert f"\n         {row['id']}, R. Example, recorded " in said
    assert "\nNo (loft): not before " in said
    assert site.err == ""
    (read,) = read_job(site.path).log
    assert isinstance(read, Reading)
    assert (read.id, read.zone, read.by, read.note) == (
        row["id"],
        "hall",
        "R. Example",
        "by the door",
    )
    assert abs((read.recorded - datetime.now(UTC)).total_seconds()) < 60


def test_now_is_written_in_the_site_s_time(site: Site) -> None:
    site.run("note job.toml energized --zone hall")  # too early, and written all the same
    (row,) = tomli.loads(site.text)["log"]
    assert abs((row["at"] - datetime.now(UTC)).total_seconds()) < 60
    assert row["at"] <= row["recorded"]
    assert row["at"].utcoffset() in {timedelta(hours=-4), timedelta(hours=-3)}
    assert row["recorded"].utcoffset() == row["at"].utcoffset()


@freeze_time("2026-10-07T02:15:00Z")  # 23:15 at the site
def test_a_finish_told_as_it_happens_is_sure_by_night_too(site: Site) -> None:
    site.run("note job.toml done layer=grout --zone hall")
    (row,) = tomli.loads(site.text)["log"]
    assert row["sure"] is True


@freeze_time("2026-10-07T12:15:00Z")
def test_a_finish_typed_at_an_hour_of_the_night_is_asked_about(site: Site) -> None:
    said = site.run('note job.toml done layer=grout --zone hall --at "2026-10-06 23:15"', code=1)
    assert "by night" in said + site.err
    assert "log" not in tomli.loads(site.text)


@pytest.mark.parametrize(
    ("line", "keys"),
    [
        ("note text=hello", {"text": "hello"}),
        ('done layer=grout "lot=L 1" --zone hall', {"layer": "grout", "lot": "L 1"}),
        (
            'moisture layer=leveler "value=1.6 CM-%" points=3',
            {"layer": "leveler", "value": "1.6 CM-%", "points": 3},
        ),
        (
            "connected locked=yes tagged=FALSE zone=hall",
            {"locked": True, "tagged": False, "zone": "hall"},
        ),
        ("inspection result=passed --zone hall", {"result": "passed", "zone": "hall"}),
        ("Test-Points layer=leveler", {"layer": "leveler", "kind": "test_points"}),
        ('"test points" layer=leveler', {"layer": "leveler", "kind": "test_points"}),
        ('resistance stage=laid "conductor=90.2 Ω" to_earth=open zone=hall', {"to_earth": "open"}),
        ('note "text=a=b"', {"text": "a=b"}),
    ],
)
def test_values_are_typed_as_in_the_job_file(
    site: Site, line: str, keys: dict[str, object]
) -> None:
    site.json(f"note job.toml {line}")
    (row,) = tomli.loads(site.text)["log"]
    assert {key: row[key] for key in keys} == keys
    assert [type(row[key]) for key in keys] == [type(value) for value in keys.values()]
    assert read_job(site.path).job is not None


def test_instants_are_the_site_s_and_get_their_offset(site: Site) -> None:
    site.note('kept "above=60 °F" "from=2026-10-06 08:00" "to=6 Oct 2026 18:00" --zone hall')
    assert "from = 2026-10-06T08:00:00-03:00\nto = 2026-10-06T18:00:00-03:00\n" in site.text
    (kept,) = read_job(site.path).log
    assert isinstance(kept, Kept)
    assert kept.to_at - kept.from_at == timedelta(hours=10)


@pytest.mark.parametrize(
    ("text", "reads", "value"),
    [
        ("true", "bool", True),
        (" No ", "bool", False),
        ("maybe", "bool", "maybe"),
        ("12", "count", 12),
        ("-1", "count", "-1"),
        ("1" * 30, "count", "1" * 30),
        ("²", "count", "²"),
        ("soon", "instant", "soon"),
        ("64 °F", "air", "64 °F"),
        ("true", "text", "true"),
    ],
)
def test_what_has_no_such_type_stays_text(text: str, reads: str, value: object) -> None:
    found = typed(text, reads, UTC, Toward.PAST)
    assert (found, type(found)) == (value, type(value))


def test_machine_output_says_the_entry_and_the_answer(site: Site) -> None:
    found = site.json('note job.toml air "air=64 °F" --zone hall --at "2026-10-06 07:30"')
    assert found["written"] is True
    assert found["file"] == "job.toml"
    assert found["entry"]["id"] == found["id"]
    assert found["entry"]["at"] == "2026-10-06T10:30:00Z"
    assert found["entry"]["keys"] == {"air": "64 °F"}
    assert found["entry"]["said"] == "air in hall: 64 °F"
    assert found["may_energize"] is False
    assert found["answer"].startswith("No (loft): not before ")


def test_only_what_is_new_is_found(site: Site) -> None:
    site.run("note job.toml energized --zone hall")
    again = site.json("note job.toml note text=seen --zone hall")
    assert again["findings"] == []


def test_an_answer_that_changed_is_said_beside_the_earlier_one(site: Site) -> None:
    said = site.run('note job.toml stopped "cause=smell or heat" reason=smoke --zone hall')
    now, before = (
        said.index("\nNo (hall): stopped "),
        said.index("\nBefore: No (loft): not before "),
    )
    assert now < before
    assert "- STOP: " in said
    assert "Before: " not in site.run("note job.toml note text=seen")


# ---- refused ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "code", "key", "told"),
    [
        ("air air=64", "quantity-no-unit", "air", '"64" has no unit; it should be'),
        ('air "air=64 °F" humdity=3', "key-unknown", "humdity", '"humidity"?'),
        ("air", "reading-empty", "", "no number"),
        ("done layer=levler", "layer-not-there", "layer", '"leveler"?'),
        ("release --zone hal", "zone-not-there", "zone", '"hall"?'),
        (
            'resistance stage=laid "cable=mat by the dor" "conductor=9 Ω"',
            "cable-not-there",
            "cable",
            '"mat by the door"?',
        ),
        (
            "inspection result=passd --zone hall",
            "choice-unknown",
            "result",
            '"passed"?',
        ),
        ("inspection --zone hall", "key-missing", "result", '"result" is missing'),
        ("inspection result=passed", "inspection-without-zone", "", "which zone"),
        ("connected locked=maybe --zone hall", "type-wrong", "locked", "true or false"),
        (
            'kept "above=60 °F" from=soon to=later',
            "instant-unreadable",
            "from",
            "not a date and time",
        ),
        ("correction of=e-1 withdrawn=true", "correction-of-unknown", "of", "no log entry"),
        ("note text=", "text-empty", "text", "is empty"),
        ('note text=x --by ""', "text-empty", "by", "is empty"),
    ],
)
def test_an_entry_that_is_not_understood_is_not_written(
    site: Site, line: str, code: str, key: str, told: str
) -> None:
    found = site.json(f"note job.toml {line}", code=1)
    assert found["written"] is False
    assert (found["findings"][0]["code"], found["findings"][0]["path"]) == (code, key)
    said = site.run(f"note job.toml {line}", code=1)
    assert said.startswith("Nothing was written.\n  - error: ")
    assert told in " ".join(said.split())
    assert site.text == SITE


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("note job.toml", "Choose one of: air, "),
        ("note job.toml ari", '"air"?'),
        ("note job.toml air 64", 'Write it like "air=64 °F"'),
        ("note job.toml air =64", "is not a key and a value"),
        ("note job.toml air air=1 air=2", '"air" is given twice'),
        ("note job.toml air air=1 zone=hall --zone hall", '"zone" is given twice'),
        ("note job.toml air id=e-1", 'writes "id" itself'),
        ("note job.toml air recorded=2026-01-01", 'writes "recorded" itself'),
        ("note job.toml release --at soon", "not a date and time I can read"),
        ("note job.toml release --at 2090-01-01", "Note only what has already happened"),
        ('note job.toml release --at "2026-11-01 01:30"', "twice"),
        ('note job.toml release --at "2026-03-08 02:30"', "does not exist"),
        ("note job.toml release --into job.toml", "is the job file itself"),
    ],
)
def test_a_command_line_that_makes_no_sense_ends_with_2(site: Site, line: str, told: str) -> None:
    assert site.run(line, code=2) == ""
    assert told in site.err
    assert site.text == SITE


def test_characters_nobody_sees_are_refused(site: Site) -> None:
    site.run("note job.toml note 'text=a\x07b'", code=2)
    assert "U+0007" in site.err
    assert site.json("note job.toml note 'text=a\u202eb'", code=1)["written"] is False
    assert site.text == SITE


def test_without_a_time_zone_no_instant_is_guessed(site: Site) -> None:
    broken = SITE.replace("America/Halifax", "America/Halifix")
    site.path.write_text(broken, encoding="utf-8")
    found = site.json("note job.toml note text=x", code=1)
    assert (found["written"], found["findings"][0]["code"]) == (False, "timezone-unknown")
    assert site.text == broken


def test_a_mistake_elsewhere_holds_up_no_fact(site: Site) -> None:
    broken = SITE.replace('material = "thinset"', 'material = "thinst"')
    site.path.write_text(broken, encoding="utf-8")
    said = site.run("note job.toml note text=x")
    assert said.startswith("Added to job.toml as ")
    assert 'no material "thinst"' in said
    assert site.text.startswith(broken)
    found = site.json("note job.toml note text=x")
    assert (found["written"], found["answer"], found["may_energize"]) == (True, None, False)


def test_a_correction_that_would_spoil_another_entry_is_not_written(site: Site) -> None:
    own = site.note("note text=x")
    before = site.text
    assert site.json(f"note job.toml correction of={own}", code=1)["written"] is False
    assert site.text == before


# ---- corrections ------------------------------------------------------------------------------


def test_a_correction_is_typed_by_the_entry_it_corrects(site: Site) -> None:
    own = site.note('moisture layer=leveler "value=1.6 CM-%" points=3 --by Lee')
    fixed = site.note(f'correction of={own} points=5 "value=1.8 CM-%" --by Lee')
    test, correction = read_job(site.path).log
    assert isinstance(test, MoistureTest)
    assert isinstance(correction, Correction)
    assert (correction.id, correction.of, correction.changes["points"]) == (fixed, own, 5)


def test_a_correction_of_anothers_entry_is_refused_with_whose_word_it_wants(site: Site) -> None:
    own = site.note('moisture layer=leveler "value=1.6 CM-%" points=3 --by Lee')
    before = site.path.read_bytes()
    said = site.run(f'note job.toml correction of={own} "value=1.4 CM-%" --by Max', code=1)
    assert "Only these may correct the moisture test of" in " ".join(said.split())
    assert site.path.read_bytes() == before
    # Bad news counts from anybody.
    site.note(f'correction of={own} "value=3.2 CM-%" --by Max')
    test, _ = read_job(site.path).log
    assert isinstance(test, MoistureTest)


def test_a_wrong_layer_is_corrected_though_the_job_is_not_understood(site: Site) -> None:
    wrong = entry(at="2026-10-02", kind='"done"', layer='"levler"', id='"e-1"')
    site.path.write_text(SITE + wrong, encoding="utf-8")
    assert read_job(site.path).job is None
    said = site.run("note job.toml correction of=e-1 layer=leveler --by 'R. Example'")
    assert "finished in hall: leveler" in said
    assert "corrected " in said
    assert read_job(site.path).job is not None


def test_an_entry_without_an_id_is_corrected_by_the_hash_the_log_shows(site: Site) -> None:
    wrong = entry(at="2026-10-02", kind='"resistance"', stage='"lad"', zone='"hall"')
    site.path.write_text(SITE + wrong, encoding="utf-8")
    (row,) = site.json("log job.toml", code=1)["entries"]
    assert row["understood"] is False
    site.note(f"correction of={row['id']} stage=laid --by Sam")
    assert isinstance(read_job(site.path).log[0], Resistance)


def test_an_entry_that_cannot_be_read_is_not_taken_back_by_anybody(site: Site) -> None:
    wrong = entry(at="2026-10-02", kind='"stopped"', cause='"trippd"', zone='"hall"', id='"e-1"')
    site.path.write_text(SITE + wrong, encoding="utf-8")
    for by in ("", "--by Lee", "--by 'R. Example'"):
        found = site.json(f"note job.toml correction of=e-1 withdrawn=true {by}", code=1)
        assert [finding["code"] for finding in found["findings"]] == ["mend-wants-role"]
    assert site.text == SITE + wrong
    site.note("correction of=e-1 withdrawn=true --by Sam")
    assert read_job(site.path).job is not None


# ---- other files ------------------------------------------------------------------------------


def test_a_log_file_of_its_own_is_begun_and_read_with_the_job(site: Site) -> None:
    made = site.note("note text=one --into site.toml")
    site.note(f"correction of={made} text=two --into site.toml")
    assert site.text == SITE
    rows = tomli.loads(Path("site.toml").read_text(encoding="utf-8"))["log"]
    assert [row["kind"] for row in rows] == ["note", "correction"]
    (row,) = site.json("log job.toml --log site.toml")["entries"]
    assert (row["id"], row["corrections"][0]["said"]) == (made, "two")


def test_an_entry_of_one_log_is_corrected_in_another(site: Site) -> None:
    made = site.note("note text=one --into a.toml")
    site.note(f"correction of={made} withdrawn=true --log a.toml --into b.toml")
    (row,) = site.json("log job.toml --log a.toml --log b.toml")["entries"]
    assert row["withdrawn"] is True
    assert (
        site.json(f"note job.toml correction of={made} withdrawn=true", code=1)["written"] is False
    )


def test_an_entry_refused_begins_no_log_file(site: Site) -> None:
    site.run("note job.toml air air=64 --into site.toml", code=1)
    assert not Path("site.toml").exists()


def test_a_full_job_file_names_the_remedy(site: Site) -> None:
    full = SITE + "#" * ((1 << 20) - len(SITE.encode()) - 1) + "\n"
    site.path.write_text(full, encoding="utf-8")
    site.run("note job.toml note text=x", code=3)
    assert "--into" in site.err
    assert site.text == full
    site.note("note text=x --into site.toml")


def test_a_job_that_is_a_link_is_read_beside_its_company(site: Site, tmp_path: Path) -> None:
    site.path.write_text(
        SITE.replace('units = "imperial"', 'company = "company.toml"'), encoding="utf-8"
    )
    (tmp_path / "links").mkdir()
    (tmp_path / "links" / "job.toml").symlink_to("../job.toml")
    (tmp_path / "links" / "company.toml").write_text(
        '[work]\nhours = "07:00-15:00"\n', encoding="utf-8"
    )
    site.run("note links/job.toml note text=x")
    assert sorted(each.name for each in (tmp_path / "links").iterdir()) == [
        "company.toml",
        "job.toml",
    ]
    assert (tmp_path / "links" / "job.toml").is_symlink()
    assert site.text.count("[[log]]") == 1


def test_a_file_that_is_not_there_ends_with_3(site: Site) -> None:
    assert site.run("note nothing.toml note text=x", code=3) == ""
    assert "There is no file nothing.toml" in site.err
    assert [each.name for each in Path().iterdir()] == ["job.toml"]


# ---- what there is to enter -------------------------------------------------------------------


@pytest.mark.parametrize("line", ["note", "note --kinds", "note job.toml --kinds", "note --help"])
def test_the_kinds_and_their_keys_are_shown(site: Site, line: str) -> None:
    said = site.run(line)
    for kind, keys in KINDS.items():
        assert f"\n{kind}" in said
        for key in keys:
            assert f"{key.name}=" in said
    assert '"above=60 °F" *' in said
