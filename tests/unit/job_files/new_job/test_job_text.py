"""The text of a new job: whatever a name holds, it reads back as it was typed."""

from __future__ import annotations

import pytest
import tomli
from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import ValueRefused
from curecal.job_files.new_job.job_text import job_text

NAMES = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=40)


@given(NAMES, NAMES)
def test_names_read_back_as_typed(name: str, material: str) -> None:
    job = {
        "job": {"name": name},
        "people": {"owner": {"name": name}},
        "zone": [{"name": name, "layer": [{"name": name, "material": material}]}],
        "material": {material: {"kind": "thinset", "data_sheet": name, "wait": {"heat": name}}},
        "sensor": {material: {"table": {name: "10 kΩ"}, "data_sheet": name}},
    }
    made = tomli.loads(job_text(job))
    assert {key: made[key] for key in ("job", "people", "material", "sensor")} == {
        key: job[key] for key in ("job", "people", "material", "sensor")
    }
    assert made["zone"][0]["layer"] == job["zone"][0]["layer"]


def test_a_sign_that_nobody_sees_is_refused() -> None:
    with pytest.raises(ValueRefused, match="entry-sign-unseen"):
        job_text({"job": {"name": "a\x00b"}})


def test_what_was_left_out_stands_as_a_comment_with_its_meaning() -> None:
    layer = {"name": "grout", "material": "cement grout"}
    text = job_text({"people": {"electrician": {"name": "Sam"}}, "zone": [{"layer": [layer]}]})
    assert '# humidity = "55 %"  # relative humidity; if left out: 65 %' in text
    assert '# license = "E 1234"  # no connection counts without it' in text
    assert "# done = 2026-11-30T14:30:00  # when its application was finished" in text
    assert '# [material."mortar on site"]' in text
