"""Segments of a climate, and their values between start and end."""

from __future__ import annotations

from curecal.science.history import Segment


def line(start_s: float, end_s: float, start_c: float, end_c: float) -> Segment:
    """A straight line of temperature at a humidity of 50 %."""
    return Segment(
        start_s=start_s, end_s=end_s, start_c=start_c, end_c=end_c, start_rh=0.5, end_rh=0.5
    )


def temperature_at(segment: Segment, instant_s: float) -> float:
    """The temperature at an instant inside the segment [°C]."""
    part = segment.fraction_at(instant_s)
    return segment.start_c + (segment.end_c - segment.start_c) * part


def humidity_at(segment: Segment, instant_s: float) -> float:
    """The relative humidity at an instant inside the segment [1]."""
    part = segment.fraction_at(instant_s)
    return segment.start_rh + (segment.end_rh - segment.start_rh) * part


def cut(segment: Segment, start_s: float, end_s: float) -> Segment:
    """The part of a segment between two instants inside it."""
    return Segment(
        start_s=start_s,
        end_s=end_s,
        start_c=temperature_at(segment, start_s),
        end_c=temperature_at(segment, end_s),
        start_rh=humidity_at(segment, start_s),
        end_rh=humidity_at(segment, end_s),
    )
