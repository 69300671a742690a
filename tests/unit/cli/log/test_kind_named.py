"""The kind of an entry as people name it, and what is said where it was left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from curecal.cli.log.shown_words import kind_named
from curecal.cli.main import code_of_run
from curecal.errors import UsageError
from curecal.words.sentences import plain_words

EXAMPLE = str(Path(__file__).parents[4] / "examples" / "bathroom" / "job.toml")


@pytest.mark.parametrize(
    ("text", "kind"), [("heat step", "heat_step"), ("Cable test", "resistance"), ("air", "air")]
)
def test_a_kind_is_named_by_its_own_word_or_as_it_is_printed(text: str, kind: str) -> None:
    assert kind_named(text, plain_words()) == kind


@pytest.mark.parametrize(
    ("text", "example", "known"),
    [
        ("air=64 F", 'air "air=64 F"', "air"),
        ("layer=grout", "", "done, moisture, test_points, inspection"),
    ],
)
def test_a_kind_that_was_left_out_is_asked_for(text: str, example: str, known: str) -> None:
    with pytest.raises(UsageError) as refused:
        kind_named(text, plain_words())
    assert refused.value.code == "note-kind-left-out"
    assert refused.value.params["example"] == example
    assert str(refused.value.params["known"]).startswith(known.partition(",")[0])


@pytest.mark.parametrize("text", ["temperture", "weather=fine"])
def test_what_is_no_kind_is_refused_with_those_there_are(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        kind_named(text, plain_words())
    assert refused.value.code == "entry-kind-unknown"


def test_the_log_is_shown_by_the_words_it_prints(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["log", EXAMPLE, "--kind", "cable test"]) == 0
    by_words = capsys.readouterr().out
    assert code_of_run(["log", EXAMPLE, "--kind", "resistance"]) == 0
    assert capsys.readouterr().out == by_words
    assert "cable test in hall bath: on delivery" in by_words
