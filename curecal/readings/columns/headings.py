"""What the words over a column name: a temperature, a humidity, or what is no reading of a room.

A sign of percent alone names nothing: a battery, a fan and a limit have it too. Words are those of
the languages that loggers are sold in; a word that is not known here names no reading.
"""

from __future__ import annotations

import re

from curecal.readings.table.cell_values import temperature_units, with_plain_degrees

# How far a reading was corrected, behind its name; a column of corrections has no name before it.
_CALIBRATED = re.compile(r"\(\s?calibrated\s[^()]*\d[^()]*\)", re.IGNORECASE)
_BOTH_UNITS = re.compile(r"[°º˚\ufffd]?\s?[CF]\s?/\s?%(?:\s?r\.?h\.?)?", re.IGNORECASE)
_AFTER_SMALL = re.compile(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Þ])")

_TEMPERATURE = re.compile(
    r"(?<!at)temp(?:[eé]?rat|(?![a-z])|[cf](?![a-z]))|thermo|teplot|lämpötil|температур|"
    r"(?<![a-z])t\s?\d*(?:$|\s?[(\[,])|(?<![a-z])t[\s_]?"
    r"(?:[cf]|air|room|floor|surface|surf|ambient|amb|indoor|in|int)(?![a-z])",
    re.IGNORECASE,
)
_HUMIDITY = re.compile(
    r"humid|(?<![a-z])hum(?![a-z])|(?<![a-z])r\.?\s?h\.?(?![a-z])|feucht|hygro|humedad|umidi|umidade|"
    r"vocht|fukt|fugt|wilgotn|vlhkost|kosteus|влажност",
    re.IGNORECASE,
)
# Two letters that say humidity in other languages, and anything else without its sign.
_SHORT_HUMIDITY = re.compile(
    r"(?<![a-z])(?:r\.?\s?[fv]|h\.?\s?r|u\.?\s?r)\.?(?![a-z])", re.IGNORECASE
)

# What somebody wants, allows or is warned of.
_WANTED = (
    r"alarm|alert|warn|limit|límit|thresh|grenz|schwell|seuil|umbral|set[\s_-]?(?:point|temp|val)|"
    r"setting|setpunt|(?<![a-z])soll|consign|target|desired|wanted|nominal"
)
# Made of readings, and none themselves.
_MADE = (
    r"minim|maxim|average|durchschnitt|kinetic|deviat|abweich|differ|delta|Δ|gradient|trend|dew|"
    r"taupunkt|ros[ée]e|roc[íi]o|rugiada|dauwpunt|daggpunkt|duggpunkt|dugpunkt|frost[\s_-]?point|"
    r"wet[\s_-]?bulb|feuchtkugel|bulbe|heat[\s_-]?index|humidex|feels|apparent|wind[\s_-]?chill|"
    r"gefühlt|ressenti"
)
# Water in air or in a material, by another measure.
_WATER = (
    r"absolut|mixing|ratio|specific|spezif|enthalp|vapo|dampf|moisture|"
    r"(?:material|holz|boden|bau|estrich|beton|rest|wand)feucht"
)
# The logger itself.
_LOGGER = (
    r"accura|toleran|genauig|uncertain|resolution|offset|correct|calibr|kalibr|signal|batt|akku|"
    r"volt|charge|serial day"
)
_WHOLE_WORDS = (
    "min|max|avg|hi|lo|high|low|med|median|std|diff|abs|set|sp|sv|dp|td|wb|mkt|wbgt|vpd|board|cpu|"
    "rate|error|status|flag"
)
_NO_READING = re.compile(
    rf"{_WANTED}|{_MADE}|{_WATER}|{_LOGGER}|(?<![a-zà-ÿ])(?:{_WHOLE_WORDS})(?![a-zà-ÿ])|±",
    re.IGNORECASE,
)
# One that is made of readings too, but may be all that a file has of an interval.
_MEAN = re.compile(r"(?<![a-z])mean(?![a-z])|mittel|moyen|(?<![a-z])media(?![a-z])", re.IGNORECASE)
# Units of what is neither; a letter alone is one only in brackets, else it is a name.
_OTHER_UNIT = re.compile(
    r"(?<![A-Za-z])(?:[mµ]?g|kg|gr|grains?|lbs?)\s?/\s?(?:m|kg|lb|ft|l)|g\s?m-3|"
    r"(?<![A-Za-z])(?:[mk]V|[mhk]?Pa|m?bar|in\s?Hg|mm\s?Hg|psi|pp[mb]|lux|lx|dBm?|mA|[mk]W|kWh|"
    r"[kM]?Ω|[kM]?[Oo]hms?|Hz|m/s|km/h|mph|k?J/kg|mm|hrs?|min|sec)(?![A-Za-z])|"
    r"[(\[]\s?(?:V|A|W|K|g|h|s|m)\s?[)\]]"
)
_OTHER = re.compile(
    r"press|druck|light|licht|lumi|noise|sound|(?<![a-z])(?:co2?|co₂|voc|tvoc|pm|uv|aqi|iaq|record)"
    r"(?![a-z])|wind|rain|count|index|event|door|motion",
    re.IGNORECASE,
)
TEMPERATURE, HUMIDITY = "temperature", "humidity"


def plain(head: str) -> str:
    """Return a header with its words apart and its degrees as everybody writes them."""
    return _AFTER_SMALL.sub(" ", _CALIBRATED.sub(" ", with_plain_degrees(head)))


def is_no_reading(head: str) -> bool:
    """Return whether a header says that its column is no reading: a limit, a figure of figures."""
    text = plain(head)
    return bool(_NO_READING.search(text) or _OTHER_UNIT.search(text))


def is_mean(head: str) -> bool:
    """Return whether a header says that its column is a mean over every interval."""
    return bool(_MEAN.search(head))


def is_other(head: str) -> bool:
    """Return whether a header names something that a logger shows beside a room's climate."""
    return is_no_reading(head) or bool(_OTHER.search(head))


def quantity(head: str) -> str:
    """Return "temperature" or "humidity" where a header's words or unit name one, else nothing."""
    text = plain(head)
    if _BOTH_UNITS.search(text):
        # Two units over one column: the words say which of them it is, or nothing does.
        bare = _BOTH_UNITS.sub(" ", text)
        both = _TEMPERATURE.search(bare) and _HUMIDITY.search(bare)
        return "" if both else quantity(bare)
    units = temperature_units(text)
    warm = bool(_TEMPERATURE.search(text))
    damp = bool(_HUMIDITY.search(text)) or ("%" in text and bool(_SHORT_HUMIDITY.search(text)))
    # A serial number under "Sensor" is a name; the letters over a temperature come first.
    if warm and damp:
        return HUMIDITY if "%" in text and not units else TEMPERATURE
    if damp:
        # A humidity in degrees is neither.
        return "" if units else HUMIDITY
    if warm:
        return "" if "%" in text and not units else TEMPERATURE
    return TEMPERATURE if units else ""


def names_reading(text: str) -> bool:
    """Return whether a text over a column names a temperature or a humidity."""
    return bool(
        _TEMPERATURE.search(plain(text)) or _HUMIDITY.search(text) or temperature_units(text)
    )
