"""A finish told twice, in file and log: the later one counts, and a stranger brings none nearer."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from planning_samples import DAY, START, codes, item, job, layer, plan, zone

from curecal.instants import Window
from curecal.trade.site_log import Done

HOUR = timedelta(hours=1)


def test_the_later_of_two_finishes_counts_and_is_said() -> None:
    made = job(zone(layer("thinset", None, "mortar")))
    # The earlier one is written down last: it brings nothing nearer.
    first = Done(id="a", at=START + HOUR * 9, recorded=START + HOUR * 9, layer="mortar")
    again = Done(id="b", at=START, recorded=START + HOUR * 10, layer="mortar")
    for log in ([first, again], [again, first]):
        found = plan(made, log)
        assert item(found, "mortar").finish == Window(first.at, first.at)
        (twice,) = [finding for finding in found.findings if finding.code == "done-twice"]
        assert (twice.params["first_at"], twice.params["last_at"]) == (again.at, first.at)
    assert "done-twice" not in codes(plan(made, [first, replace(first, id="c")]))


def test_a_finish_told_by_a_stranger_counts_only_where_it_is_later() -> None:
    made = job(zone(layer("thinset", None, "mortar")))
    told = Done(id="a", at=START, recorded=START, layer="mortar", by="Ada")
    stranger = Done(id="b", at=START, recorded=START, layer="mortar", by="Nobody We Know")
    later = replace(stranger, at=START + HOUR, recorded=START + HOUR)
    earlier = replace(stranger, at=START - HOUR, recorded=START - HOUR)
    assert item(plan(made, [stranger]), "mortar").planned
    assert "signer-not-in-job" in codes(plan(made, [stranger]))
    assert item(plan(made, [told, later]), "mortar").finish == Window(later.at, later.at)
    assert item(plan(made, [told, earlier]), "mortar").finish == Window(START, START)
    # Nobody has to sign a fact of the work.
    unsigned = plan(made, [replace(told, by=None)])
    assert item(unsigned, "mortar").finish == Window(START, START)


def test_the_later_of_file_and_log_counts() -> None:
    made = job(zone(layer("thinset", START, "mortar")))
    entry = Done(id="d", at=START + HOUR * 5, recorded=START + HOUR * 6, layer="mortar")
    found = plan(made, [entry])
    assert item(found, "mortar").finish == Window(START + HOUR * 5, START + HOUR * 5)
    assert "done-differs" in codes(found)
    older = Done(id="d", at=START - DAY, recorded=START - DAY, layer="mortar")
    found = plan(made, [older])
    assert item(found, "mortar").finish == Window(START, START)
    elsewhere = Done(id="d", at=START, recorded=START, layer="mortar", part="left")
    assert item(plan(job(zone(layer("thinset", None, "mortar"))), [elsewhere]), "mortar").planned
