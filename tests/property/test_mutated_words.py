"""Command lines with something changed in a word: refused, or taken as a person reads it.

What `note` writes stands in the file afterwards, and is read there a second time by hand; of the
words that are spoken ("yesterday 17:00") the answer is computed here.
"""

from __future__ import annotations

import json
import random
import tomllib
import zoneinfo
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from file_mutations import count_of, drawn, spoil_value
from freezegun import freeze_time
from instants_by_hand import instant
from job_by_hand import differences

from curecal.cli.main import INTERNAL, code_of_run
from curecal.job_files import read_job

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 11, 20, 16, 30, tzinfo=UTC)
HALIFAX = zoneinfo.ZoneInfo("America/Halifax")
NOTES: tuple[tuple[str, ...], ...] = (
    ("air", "air=64 °F", "humidity=58 %", "at=2026-11-20T08:00", "by=Robin Mistral"),
    ("surface", "surface=17.5 °C", "low=61 °F", "at=2026-11-19 16:00", "by=Robin Mistral"),
    (
        *("resistance", "stage=connection", "conductor=90.2 Ω", "to_earth=open"),
        *("insulation=550 MΩ at 500 V", "floor=66 °F", "at=2026-11-20T09:00-04:00"),
        "by=Sam Okoro-Lind",
    ),
    ("kept", "above=62 °F", "from=2026-11-18T08:00", "to=2026-11-20T08:00", "by=Robin Mistral"),
    ("protection", "device=GFCI", "trips_at=5 mA", "trip_time=18 ms", "by=Sam Okoro-Lind"),
    ("thermostat", "mode=floor", "limit=81 °F", "schedule=off", "by=Sam Okoro-Lind"),
    ("note", "text=dust sheet down", "at=2026-11-20T08:00", "by=Robin Mistral"),
    (
        *("moisture", "layer=leveler", "method=carbide", "value=1.6 CM-%", "depth=3/8 in"),
        *("points=3", "at=2026-11-20T08:00"),
    ),
)
_INSTANT_KEYS = {"at", "from", "to"}


def spoiled(words: tuple[str, ...], draw: random.Random) -> list[str]:
    """Return words with a value changed in one or two of them, or two exchanged."""
    found = list(words)
    for _ in range(draw.choice((1, 1, 2))):
        at = draw.randrange(1, len(found))
        key, _, value = found[at].partition("=")
        if draw.randrange(8) == 0:
            other = draw.randrange(1, len(found))
            theirs, _, their_value = found[other].partition("=")
            found[at], found[other] = f"{key}={their_value}", f"{theirs}={value}"
        else:
            found[at] = f"{key}={spoil_value(value, draw)}"
    return found


def wrong_note(words: list[str], before: dict[str, Any], file: Path) -> list[str]:
    """Return what stands in a job file behind a note that was not typed."""
    tree = tomllib.loads(file.read_text(encoding="utf-8"))
    found = read_job(file)
    if found.job is None:
        return ["the job is not understood any more"]
    wrong = differences(tree, found)
    entry = tree["log"][-1]
    if tree["log"][:-1] != before["log"]:
        wrong.append("another entry was changed")
    for word in words[1:]:
        key, _, text = word.partition("=")
        if key in _INSTANT_KEYS and text[:2] == "20":
            want = instant(HALIFAX)(" ".join(text.split())) or frozenset()
            # Of today without an hour nobody can say more than that it is over by now.
            want |= {NOW} if text.strip() == f"{NOW:%Y-%m-%d}" else set()
            # A day alone is over in its last minute, or with it.
            want |= {one - timedelta(minutes=1) for one in want}
            if entry[key].astimezone(UTC) not in want:
                wrong.append(f"{word!r}: {entry[key]}, and a person reads {want}")
        elif key not in _INSTANT_KEYS and not _is_alike(key, entry.get(key), text):
            wrong.append(f"{word!r}: {entry.get(key)!r}")
    return wrong


def _is_alike(key: str, found: object, typed: str) -> bool:
    """Return whether a value is what was typed; of a choice in whatever case."""
    one, other = str(found).strip(), typed.strip()
    if isinstance(found, int) and not isinstance(found, bool):
        return other.isdecimal() and found == int(other)
    return one == other or (key not in {"text", "by"} and one.casefold() == other.casefold())


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a job file in the folder where commands run."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    return tmp_path / "job.toml"


def test_a_mutated_note_is_refused_or_stands_as_it_was_typed(
    site: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    draw, ends = drawn("command line"), Counter[str]()
    whole = (ROOT / "examples" / "bathroom" / "job.toml").read_bytes()
    before = tomllib.loads(whole.decode())
    with freeze_time(NOW):
        for number in range(count_of("command line") * 2 // 3):
            site.write_bytes(whole)
            words = list(NOTES[number % len(NOTES)])
            if number >= len(NOTES):
                words = spoiled(NOTES[number % len(NOTES)], draw)
            code = code_of_run(["note", "job.toml", *words])
            said = capfd.readouterr()
            about = (number, words, code, said.err[-300:])
            assert code != INTERNAL, about
            assert "Traceback" not in said.err, about
            if code == 0:
                wrong = wrong_note(words, before, site)
                assert not wrong, (about, wrong)
                ends["noted"] += 1
            else:
                assert site.read_bytes() == whole, about
                assert (said.out + said.err).strip(), about
                ends["refused"] += 1
    assert min(ends.values()) > count_of("command line") // 20, ends


def asked(draw: random.Random) -> tuple[str, datetime | None]:
    """Return an instant as somebody types it, and which it is; None for a day alone."""
    day = NOW.astimezone(HALIFAX).replace(hour=0, minute=0, second=0, tzinfo=None)
    past = draw.randrange(1, 7)
    hour, minute = draw.randrange(24), draw.choice((0, 5, 30))
    wall = day - timedelta(days=past) + timedelta(hours=hour, minutes=minute)
    at = wall.replace(tzinfo=HALIFAX).astimezone(UTC)
    clock = f"{hour}:{minute:02}"
    half = f"{hour % 12 or 12}:{minute:02} {'am' if hour < 12 else 'pm'}"
    yesterday = (day - timedelta(days=1)).replace(hour=hour, minute=minute, tzinfo=HALIFAX)
    return draw.choice(
        (
            (f"{wall:%Y-%m-%dT%H:%M}", at),
            (f"{wall:%Y-%m-%d} {hour:02}:{minute:02}", at),
            (f"{wall:%b} {wall.day} {clock}", at),
            (f"{wall.day} {wall:%B}, {half}", at),
            (f"{wall:%a}, {wall.day} {wall:%b} {clock}", at),
            (f"yesterday {half}", yesterday.astimezone(UTC)),
            (f"{wall:%Y-%m-%d}", None),
        )
    )


def test_a_mutated_as_of_is_refused_or_the_instant_that_was_typed(
    site: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    site.write_bytes((ROOT / "examples" / "bathroom" / "job.toml").read_bytes())
    draw, ends = drawn("as of"), Counter[str]()
    with freeze_time(NOW):
        for number in range(count_of("command line") // 3):
            text, at = asked(draw)
            is_whole = number % 4 == 0
            typed = text if is_whole else spoil_value(text, draw)
            code = code_of_run(["plan", "job.toml", "--json", f"--as-of={typed}"])
            said = capfd.readouterr()
            about = (number, text, typed, code, said.err[-300:])
            assert code != INTERNAL, about
            assert "Traceback" not in said.err, about
            if code != 0:
                assert not said.out, about
                assert not is_whole or at is None, about
                ends["refused"] += 1
                continue
            found = datetime.fromisoformat(json.loads(said.out)["as_of"]).astimezone(UTC)
            want = (
                instant(HALIFAX)(" ".join(typed.split())) if typed[:2] == "20" else frozenset({at})
            )
            if typed == text or typed[:2] == "20":
                assert found in (want or ()), (about, found)
            ends["answered"] += 1
    assert min(ends.values()) > 2, ends
