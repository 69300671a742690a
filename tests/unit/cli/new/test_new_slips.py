"""What goes wrong while a person answers `new`: it is told at once, and costs no other answer."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from new_samples import NOW, PEOPLE, SITE, layers_of, sits_down

from curecal.cli.main import code_of_run

pytestmark = pytest.mark.usefixtures("in_folder")


@freeze_time(NOW)
def test_a_slip_is_asked_again_and_costs_no_other_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch,
        ("Large city", "Halifacks"),
        ("Large city", "Boston"),
        ("Code", "NEX"),
        ("Room temperature", "66"),
        ("Room temperature", "66 °C"),
        ("Room temperature", "66 °F"),
        ("Coldest", "70 °F"),
        ("Below", "?"),
        ("Covering", "tile"),
        ("Tile size", "12"),
        *SITE,
        ("Build-up", "own list"),
        ("Layer 1", "Plywod"),
        ("Layer 1", "tile"),
        ("Layer 1", "mastic"),
        ("Layer 1", "plywood"),
        ("Layer 2", "leveler"),
        ("There before", "maybe"),
        ("Finished", "in a while"),
        ("Finished", "tomorrow 9:00"),
        ("Begins", "yesterday 9:00"),
        ("Thickness", "10"),
        ("Thickness", "10 mm"),
        ("Layer 3", "thinset"),
        ("Layer 4", "cement grout"),
        ("Mail of Robin", "robin at home"),
        *PEOPLE,
    )
    assert code_of_run(["new"]) == 0
    assert person.left == []
    said = " ".join(capsys.readouterr().out.split())
    for told in (
        'No clock is named after "Halifacks". Did you mean "America/Halifax"?',
        'No clock is named after "Boston". Enter a larger city with the same clock',
        '"NEX" is not one of the choices.',
        '"66" has no unit; it should be a temperature.',
        'No site is at "66 °C"',
        "Over ground, outdoors or an unheated room the floor is colder than the air.",
        '"tile" is not one of the choices.',
        'There is no material "Plywod". Near to it: "plywood".',
        "- grouts: cement grout, semi-rapid grout, rapid grout",
        '"tile" is a covering, not a layer.',
        '"mastic" may not lie in a heated floor',
        '"maybe" is not one of the choices.',
        '"tomorrow 9:00" is still to come.',
        '"yesterday 9:00" is past.',
        '"10" has no unit; it should be a length.',
    ):
        assert told in said, told
    assert [layer["name"] for layer in layers_of("alder-lane-hall-bath.toml")] == [
        "plywood",
        "leveler",
        "thinset",
        "cement grout",
    ]


@freeze_time(NOW)
@pytest.mark.parametrize(
    "name",
    [
        '"] [log]',
        "Ålder \\ Lane 'x'",
        "你好",
        "[red]{name}",
        "x" * 120,
        "../../etc/passwd",
        "-",
        "%s {0}",
    ],
)
def test_hostile_names_are_kept_as_typed(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], in_folder: Path
) -> None:
    person = sits_down(
        monkeypatch,
        ("Name of the job", "\x1b[31mred"),
        ("Name of the job", "x" * 5000),
        ("Name of the job", "a\ud800"),
        ("Name of the job", name),
        *SITE[1:],
        ("Build-up", "1"),
        ("Made of", "plywood"),
        ("Name of the crew lead", name),
    )
    assert code_of_run(["new"]) == 0
    assert person.left == []
    assert "\x1b" not in capsys.readouterr().out
    made = [tomli.loads(path.read_text(encoding="utf-8")) for path in in_folder.glob("*.toml")]
    assert [(job["job"]["name"], job["people"]["crew_lead"]["name"]) for job in made] == [
        (name, name)
    ]


@freeze_time(NOW)
def test_an_upside_down_list_is_seen_as_it_is_typed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "own list"),
        ("Layer 1", "plywood"),
        ("Layer 2", "cement grout"),
        ("Layer 3", "thinset"),
        ("Start the layers again", "?"),
        ("Start the layers again", "yes"),
        ("Layer 1, the lowest", ""),
        ("Layer 1, the lowest", "-"),
        ("Layer 1, the lowest", "plywood"),
        ("Layer 2", "thinset"),
        ("Layer 3", "grout"),
        ("Layer 4", "thinset"),
        ("Start the layers again", "no"),
        ("Enter the thinset 2 again", "yes"),
        ("Layer 4", "sealer"),
    )
    assert code_of_run(["new"]) == 0
    assert person.left == []
    said = " ".join(capsys.readouterr().out.split())
    assert "the thinset cannot lie on fresh cement grout: is the list upside down?" in said
    names = [layer["name"] for layer in layers_of("alder-lane-hall-bath.toml")]
    assert names == ["plywood", "thinset", "grout", "sealer"]


@freeze_time(NOW)
def test_answers_that_cannot_be_so_are_written_down_all_the_same(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "own list"),
        ("Layer 1", "cement grout"),
        ("There before", "no"),
        ("Layer 2", "thinset"),
        ("Start the layers again", "no"),
        ("Enter the thinset again", "no"),
    )
    assert code_of_run(["new"]) == 1
    said = capsys.readouterr().out
    assert "Wrote alder-lane-hall-bath.toml." in said
    assert "Fix this in the file, then: curecal plan alder-lane-hall-bath.toml" in said
    assert [layer["name"] for layer in layers_of("alder-lane-hall-bath.toml")] == [
        "cement grout",
        "thinset",
    ]


@freeze_time(NOW)
def test_an_odd_finish_is_asked_about(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "1"),
        ("Made of", "plywood"),
        ("Finished", "2025-11-27 16:00"),
        ("Is that right", ""),
        ("Finished", "2026-11-27 02:30"),
        ("Is that right", "no"),
        ("Finished", "2026-11-27 14:30"),
        ("Finished", "2026-11-28 23:00"),
        ("Is that right", "yes"),
    )
    assert code_of_run(["new"]) == 0
    capsys.readouterr()
    assert person.left == []
    thinset, grout = layers_of("alder-lane-hall-bath.toml")[1:]
    assert str(thinset["done"]) == "2026-11-27 14:30:00"
    assert "sure" not in thinset
    assert (str(grout["done"]), grout["sure"]) == ("2026-11-28 23:00:00", True)
    assert code_of_run(["plan", "alder-lane-hall-bath.toml", "--require", "date"]) == 0


@freeze_time(NOW)
def test_what_is_not_known_may_stay_open(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "cable in leveler"),
        ("Made of", "plywood"),
        ("Wait before heat in the mat's own guide", "28 d"),
    )
    assert code_of_run(["new"]) == 0
    said = capsys.readouterr().out
    assert "Without it there is no date." in said
    assert "A wait counts only with its source, so it is left out." in said
    assert "\nNo, and there is no date: " in said
    assert "Write the calendars: curecal calendars write" in said
    job = tomli.loads(Path("alder-lane-hall-bath.toml").read_text(encoding="utf-8"))
    assert "wait" not in job["zone"][0]["heating"]
    assert "people" not in job


@freeze_time(NOW)
def test_a_covering_that_is_no_tile_is_asked_otherwise(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch,
        ("Covering", "engineered"),
        *SITE,
        ("Laid [", "floating"),
        ("Build-up", "own list"),
        ("Layer 1", "plywood"),
        ("Layer 2", "calcium-sulfate screed"),
        ("Thickness", "50 mm"),
        ("Heated once bare", "no"),
        ("Data sheet", "rev. 4"),
        ("before covering", "28 d"),
    )
    assert code_of_run(["new"]) == 0
    capsys.readouterr()
    assert not any("Tile size" in question for question in person.asked)
    zone = tomli.loads(Path("alder-lane-hall-bath.toml").read_text(encoding="utf-8"))["zone"][0]
    assert zone["covering"] == {"kind": "engineered wood", "laid": "floating"}
    assert "heat_before_covering" not in zone["layer"][1]
    assert zone["layer"][1]["material"] == "calcium-sulfate screed by its sheet"
