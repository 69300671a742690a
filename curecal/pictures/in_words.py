"""Pictures in words: what a timeline and a section say to who cannot see them."""

from __future__ import annotations

from curecal.pictures.section import FloorSection
from curecal.pictures.timeline import Timeline
from curecal.words.sentences import ended


def timeline_in_words(timeline: Timeline) -> str:
    """Return a timeline as sentences: the answer, each layer with its date, the set-points."""
    said = [timeline.says]
    for row in timeline.rows:
        told = [*(mark.says for mark in row.marks), row.says]
        said.append(ended(f"{row.label}: {', '.join(text for text in told if text)}"))
    said += [timeline.energize_text, timeline.to_do_text]
    shown = timeline.temperatures
    said += [ended(text) for text in (shown.expected_text, shown.minimum_text) if text]
    for heat_up in shown.heat_ups:
        said.append(ended(heat_up.text))
        said += [ended(f"{step.on_text}: {step.text}") for step in heat_up.steps]
    return " ".join(sentence for sentence in said if sentence)


def section_in_words(section: FloorSection) -> str:
    """Return a section as sentences, the top layer first."""
    said = [section.says] if section.says else []
    for slab in section.slabs:
        parts = [slab.label, slab.thickness_text, section.cable_text if slab.holds_cable else ""]
        said.append(ended(f"{', '.join(part for part in parts if part)}: {slab.says}"))
    return " ".join(said)
