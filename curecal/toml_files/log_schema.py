"""Every key a log entry may hold, by the entry's kind."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from curecal.toml_files.schema import Key, must, one_of
from curecal.trade.site_log import (
    Booking,
    Cause,
    Device,
    LeadAlarm,
    Leads,
    Method,
    Mode,
    Origin,
    Place,
    Result,
    Schedule,
    Stage,
    TripTest,
    VisitFor,
)

_LAYER = must("layer", "name", '"leveler"', "the layer, by id or name")
_HUMIDITY = Key("humidity", "humidity", '"58 %"', "relative humidity")
_LOW = Key("low", "unheated", '"60 °F"', "lowest since the display's reset")

BASE = (
    must("at", "instant", "2026-11-30T16:00:00-04:00", "when it happened"),
    must("kind", "raw", '"air"', "what it is"),
    Key("id", "id", '"e-0123456789ab"', "identity; if left out: the hash of its content"),
    Key("recorded", "instant", "2026-11-30T16:05:00-04:00", "when it was written down"),
    Key("by", "name", '"R. Example"', "who did it or saw it: a person of the job"),
    Key("entered_by", "name", '"O. Example"', "who typed it; if left out: who did it"),
    one_of("from", tuple(Origin), "how who typed it knows"),
    Key("photo", "text", '"sticker.jpg"', "a picture of the sticker, the card or the meter"),
    Key("note", "note", '"…"', "a note"),
    Key(
        "zone",
        "name",
        '"hall bath"',
        "by id or name; if left out: the zone of its layer or cable, else every zone",
    ),
)
KINDS: Mapping[str, tuple[Key, ...]] = MappingProxyType(
    {
        "air": (
            Key("air", "unheated", '"64 °F"', "air temperature"),
            _HUMIDITY,
            _LOW,
        ),
        "surface": (
            Key("surface", "unheated", '"62 °F"', "temperature of the surface"),
            _HUMIDITY,
            _LOW,
        ),
        "floor": (
            Key("floor", "heated", '"62 °F"', "temperature of the floor's sensor"),
            _HUMIDITY,
            _LOW,
            one_of("heating", ("off", "on"), "whether the heating was on; if left out: not known"),
        ),
        "kept": (
            must("above", "unheated", '"60 °F"', "the room stayed at or above"),
            must("from", "instant", "2026-11-30T16:00:00-04:00", "from when"),
            must("to", "instant", "2026-12-02T16:00:00-04:00", "until when"),
        ),
        "readings": (
            must("file", "text", '"job.readings/hall.csv"', "file of the readings, beside the job"),
            Key("sha256", "name", '"…"', "hash of the file; without it nothing is counted"),
            one_of("place", tuple(Place), "what the logger measured; if left out: air"),
            Key("device", "name", '"20481516"', "the logger, by number or name"),
            Key("from", "instant", "2026-11-30T18:00:00-04:00", "count nothing before"),
            Key("until", "instant", "2026-12-02T16:00:00-04:00", "count nothing after"),
            Key("rows", "count", "96", "how many readings"),
            Key("first", "instant", "2026-11-30T16:00:00Z", "the first"),
            Key("last", "instant", "2026-12-01T16:00:00Z", "the last"),
            Key("understood", "note", '"…"', "what it was understood to say"),
        ),
        "done": (
            _LAYER,
            Key("part", "name", '"shower side"', "part of the zone"),
            Key("lot", "name", '"L 1234"', "lot number on the bag"),
            Key("sure", "bool", "true", "an odd date or hour is right"),
        ),
        "resistance": (
            one_of("stage", tuple(Stage), "at which test", required=True),
            Key(
                "cable", "name", '"mat by the door"', "the cable, where the job gives cables names"
            ),
            Key("conductor", "reading", '"90.2 Ω"', "the conductor"),
            Key("to_earth", "reading", '"open"', "conductor to earth, by multimeter"),
            Key("insulation", "insulated", '"> 2 GΩ"', "insulation resistance"),
            Key("insulation_at", "voltage", '"500 V"', "its test voltage"),
            Key("sensor", "reading", '"12.1 kΩ"', "the floor sensor"),
            Key("floor", "heated", '"20 °C"', "the floor's temperature at the test"),
            Key("meter", "name", '"M 3"', "the meter"),
        ),
        "not_tested": (
            one_of("stage", (Stage.DELIVERY, Stage.LAID), "which test was missed", required=True),
            Key(
                "cable", "name", '"mat by the door"', "the cable, where the job gives cables names"
            ),
        ),
        "moisture": (
            _LAYER,
            one_of("method", tuple(Method), "how it was measured"),
            must("value", "moisture", '"1.6 CM-%"', "what it found"),
            Key("depth", "depth", '"30 mm"', "depth of the sample"),
            Key("points", "count", "3", "how many points"),
            Key("heating_off_for", "off_for", '"24 h"', "how long the heating was off before"),
            Key("air", "unheated", '"20 °C"', "air temperature at the test"),
            Key("humidity", "humidity", '"55 %"', "relative humidity of the air at the test"),
        ),
        "test_points": (Key("layer", "name", '"screed"', "the layer, by id or name"),),
        "inspection": (
            Key("layer", "name", '"leveler"', "the layer, if it is about one; else write the zone"),
            one_of("result", tuple(Result), "what was decided", required=True),
        ),
        "protection": (
            one_of("device", tuple(Device), "what protects", required=True),
            Key("trips_at", "residual", '"5 mA"', "residual current on its label"),
            one_of("trip_test", tuple(TripTest), "what its test did"),
            Key("trip_time", "trip_time", '"18 ms"', "how long it took to trip"),
        ),
        "connected": (
            Key("locked", "bool", "true", "breaker off and locked"),
            Key("tagged", "bool", "true", "breaker tagged"),
            one_of("leads", tuple(Leads), "where the heating wires are"),
        ),
        "continuity": (
            Key(
                "cable", "name", '"mat by the door"', "the cable, where the job gives cables names"
            ),
            one_of("state", tuple(LeadAlarm), "the alarm on the heating wires", required=True),
        ),
        "thermostat": (
            one_of("mode", tuple(Mode), "what it controls by", required=True),
            Key("limit", "floor", '"29 °C"', "floor limit set"),
            one_of("schedule", tuple(Schedule), "its own program"),
        ),
        "visit": (
            must("visit", "name", '"test and connect"', "the visit's id, the same each time"),
            one_of("for", tuple(VisitFor), "what it is for"),
            Key("start", "instant", "2026-12-08T09:00:00-04:00", "when it begins; may lie ahead"),
            Key("end", "instant", "2026-12-08T11:00:00-04:00", "when it ends; may lie ahead"),
            one_of("state", tuple(Booking), "how it stands", required=True),
            Key("who", "name", '"E. Example"', "who comes; if left out: the first of that trade"),
        ),
        "release": (),
        "energized": (),
        "heat_step": (must("to", "set_point", '"25 °C"', "floor temperature set"),),
        "stopped": (
            one_of("cause", tuple(Cause), "why; it decides who may lift the stop", required=True),
            Key("reason", "text", '"it hums"', "more about it"),
        ),
        "resumed": (must("found", "text", '"water in the box, dried"', "what was found"),),
        "photo": (
            must("file", "text", '"cable.jpg"', "the picture"),
            Key("text", "note", '"…"', "what it shows"),
        ),
        "note": (
            Key("text", "note", '"…"', "the note"),
            Key("file", "text", '"letter.pdf"', "a file"),
        ),
        "correction": (
            must("of", "name", '"e-0123456789ab"', "the entry corrected, by its id"),
            Key("withdrawn", "bool", "true", "the entry was a mistake: it no longer counts"),
        ),
    }
)
