"""Where a finding is about, beside a sentence that may say it already."""

from __future__ import annotations

from curecal.words.job_places import place_beside
from curecal.words.sentences import plain_words


def test_a_finding_names_its_place_where_its_sentence_does_not() -> None:
    bath = {"zone": [{"name": "hall bath", "layer": [{"name": "bed"}, {"name": "grout"}]}]}
    two = {"zone": [*bath["zone"], {"name": "den"}]}
    for path, names, sentence, told in (
        ("zone.0.layer.1", bath, "the grout is late", ""),
        ("zone.0.layer.1", two, "the grout is late", 'zone "hall bath"'),
        ("zone.0.layer.0", bath, "the embedding is late", 'layer "bed"'),
        ("zone.0.layer.1.thickness", bath, "the grout is thin", 'layer "grout", thickness'),
        ("zone.0", bath, "the floor is cold", ""),
        ("job.code", bath, "the grout is late", "job, code"),
    ):
        assert place_beside(sentence, path, names, plain_words()) == told
