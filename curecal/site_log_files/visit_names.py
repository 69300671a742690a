"""The id of a visit that was given none: what it is for, and where."""

from __future__ import annotations


def visit_named(kind: str, values: dict[str, object]) -> dict[str, object]:
    """Return what was said of a visit, with an id if it was given none: what for, and the zone.

    Whoever confirms it or calls it off says the same again, and means the same visit.
    """
    if kind != "visit" or "visit" in values or "for" not in values:
        return values
    named = ", ".join(str(values[key]) for key in ("for", "zone") if key in values)
    return {**values, "visit": named}
