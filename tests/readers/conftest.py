"""The four readers, one after the other: `reader` runs a test once with each."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import by_ics
import by_vobject
import pytest
from by_ical_js import IcalJs
from by_libical import LibIcal
from known import NAMES
from reading import Reader


@pytest.fixture(scope="session", params=NAMES)
def reader(request: pytest.FixtureRequest, needs: Callable[[str], str]) -> Iterator[Reader]:
    """Give one reader; its program or module missing, the test is skipped with its name."""
    found = needs(request.param)
    if request.param == "icaljs":
        with IcalJs(needs("node")) as process:
            yield Reader("icaljs", process.read)
    elif request.param == "libical":
        yield Reader("libical", LibIcal(found).read)
    elif request.param == "ics":
        yield Reader("ics", by_ics.read)
    else:
        yield Reader("vobject", by_vobject.read)
