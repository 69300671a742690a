"""What people write is read into SI, exactly; the wrong number is never read."""

from __future__ import annotations

from fractions import Fraction

import pytest

from curecal import units
from curecal.units import (
    DryingSegment,
    Insulation,
    Moisture,
    Range,
    ResistanceReading,
    Tolerance,
)

# A pound is 0.45359237 kg, a foot 0.3048 m, a day 86400 s.
POUNDS_3 = 1.6952873737441147e-07
CASES = {
    units.temperature: {
        "66 °F": float(Fraction(34 * 5, 9)),
        "66F": float(Fraction(34 * 5, 9)),
        "66 deg F": float(Fraction(34 * 5, 9)),
        "66 ºF": float(Fraction(34 * 5, 9)),
        "61 \u2109": float(Fraction(29 * 5, 9)),
        "19C": 19.0,
        " 19\u00a0°C ": 19.0,
        "+19 degrees Celsius": 19.0,
        "\u22125 °C": -5.0,
        "\u20135 °C": -5.0,
        "-5 °C": -5.0,
        "292 K": 18.85,
        "292 \u212a": 18.85,
        "0 K": -273.15,
        "1.9e1 °C": 19.0,
    },
    units.temperature_range: {
        "21\u201324 °C": Range(low=21.0, high=24.0),
        "21 to 24 °C": Range(low=21.0, high=24.0),
        "70 °F ± 5": Range(low=float(Fraction(33 * 5, 9)), high=float(Fraction(43 * 5, 9))),
        "70 °F +/- 5 °F": Range(low=float(Fraction(33 * 5, 9)), high=float(Fraction(43 * 5, 9))),
        "20 °C ± 2 K": Range(low=18.0, high=22.0),
        "68 °F": Range(low=20.0, high=20.0),
        "-5 - 5 °C": Range(low=-5.0, high=5.0),
        "\u221210\u2013\u22125 °C": Range(low=-10.0, high=-5.0),
        "20 °C to 77 °F": Range(low=20.0, high=25.0),
    },
    units.temperature_step: {"5 °C": 5.0, "9 °F": 5.0, "5 K": 5.0, "0 K": 0.0},
    units.temperature_rate: {
        "5 °C/day": 5.0,
        "18 °F/day": 10.0,
        "5 K per day": 5.0,
        "5 K a day": 5.0,
        "1 °C/h": 24.0,
        "5 °C per 24 h": 5.0,
        "½ K every hour": 12.0,
    },
    units.duration: {
        "2 1/2 h": 9000.0,
        "1 1/4 h": 4500.0,
        "1 ¾ h": 6300.0,
        "⅓ h": 1200.0,
        "1.25 h": 4500.0,
        "0.125 h": 450.0,
        "2½ h": 9000.0,
        "2 1\u20442 h": 9000.0,
        "24 hours": 86_400.0,
        "24 H": 86_400.0,
        "7 d": 604_800.0,
        "7 days": 604_800.0,
        "4 weeks": 2_419_200.0,
        "90 min": 5400.0,
        "1 d 12 h": 129_600.0,
        "2h30min": 9000.0,
        "2 h, 30 min": 9000.0,
        "2 h and 30 min": 9000.0,
        "½ d": 43_200.0,
        ".5 h": 1800.0,
        "45 s": 45.0,
    },
    units.duration_range: {
        "24\u201348 h": Range(low=86_400.0, high=172_800.0),
        "24 - 48 h": Range(low=86_400.0, high=172_800.0),
        "24 h to 2 d": Range(low=86_400.0, high=172_800.0),
        "2 1/2 to 3 hours": Range(low=9000.0, high=10_800.0),
        "3 1/2-4 h": Range(low=12_600.0, high=14_400.0),
        "1 h to 2 h 30 min": Range(low=3600.0, high=9000.0),
        "\u2264 3 hours": Range(low=0.0, high=10_800.0),
        "up to 3 h": Range(low=0.0, high=10_800.0),
        "3 h maximum": Range(low=0.0, high=10_800.0),
        "minimum of 7 days": Range(low=604_800.0, high=604_800.0),
        "at least 7 days": Range(low=604_800.0, high=604_800.0),
        "7 days minimum": Range(low=604_800.0, high=604_800.0),
        "\u2265 7 d": Range(low=604_800.0, high=604_800.0),
        "24 h": Range(low=86_400.0, high=86_400.0),
    },
    units.length: {
        "3/8 in": 0.009525,
        '3/8"': 0.009525,
        "⅜ inch": 0.009525,
        "1 1/2 in": 0.0381,
        "1 1 / 2 in": 0.0381,
        "12mm": 0.012,
        "12 MM": 0.012,
        "1 ft 6 in": 0.4572,
        "5' 3 1/2\"": 1.6129,
        "6''": 0.1524,
        "2 m": 2.0,
    },
    units.length_range: {
        "1/4 to 3/8 in": Range(low=0.00635, high=0.009525),
        '1/4" to 3/8"': Range(low=0.00635, high=0.009525),
        "6\u201310 mm": Range(low=0.006, high=0.01),
        "up to 10 mm": Range(low=0.0, high=0.01),
        "10 mm": Range(low=0.01, high=0.01),
    },
    units.tile_size: {
        "12 x 24 in": (0.3048, 0.6096),
        '12" x 24"': (0.3048, 0.6096),
        "30\u00d760 cm": (0.3, 0.6),
        "300 x 600 mm": (0.3, 0.6),
        "600 by 300 mm": (0.6, 0.3),
    },
    units.area: {
        "54 ft²": 5.01676416,
        "54 ft2": 5.01676416,
        "54 sq ft": 5.01676416,
        "5 m2": 5.0,
        "5 m²": 5.0,
        "5 sq m": 5.0,
    },
    units.fraction: {"55 %": 0.55, "55%": 0.55, "120 percent": 1.2},
    units.humidity: {"55 %": 0.55, "55 % RH": 0.55, "RH 55 %": 0.55, "100 %": 1.0, "0 %": 0.0},
    units.tolerance: {
        "±10 %": Tolerance(below=0.1, above=0.1),
        "+/-10 %": Tolerance(below=0.1, above=0.1),
        "-5/+10 %": Tolerance(below=0.05, above=0.1),
        "\u22125/+10 %": Tolerance(below=0.05, above=0.1),
        "+10/-5 %": Tolerance(below=0.05, above=0.1),
        "-5 % / +10 %": Tolerance(below=0.05, above=0.1),
        "-5 % to +10 %": Tolerance(below=0.05, above=0.1),
        "-5, +10 %": Tolerance(below=0.05, above=0.1),
        "-0/+10 %": Tolerance(below=0.0, above=0.1),
    },
    units.moisture: {
        "0.5 CM-%": Moisture("carbide", 0.005),
        "0.5 % CM": Moisture("carbide", 0.005),
        "75 % RH": Moisture("humidity", 0.75),
        "2.0 %": Moisture("plain", 0.02),
        "3 lb/1000 ft²": Moisture("calcium chloride", None, POUNDS_3),
        "3 lbs / 1000 sq ft in 24 h": Moisture("calcium chloride", None, POUNDS_3),
        "8.64 g/m² in 24 h": Moisture("calcium chloride", None, 1e-7),
        "8.64 g/m2/24 h": Moisture("calcium chloride", None, 1e-7),
    },
    units.resistance: {
        "90 Ω": 90.0,
        "90 \u2126": 90.0,
        "90 ohms": 90.0,
        "10 kΩ": 1e4,
        "10 kohm": 1e4,
        "20 MΩ": 2e7,
        "20 Mohm": 2e7,
        "20 megohms": 2e7,
        "500 MΩ": 5e8,
        "500 Ω": 500.0,
        "20 mΩ": 0.02,
        "2 GΩ": 2e9,
    },
    units.voltage: {"240 V": 240.0, "500 V DC": 500.0, "240 VAC": 240.0, "1 kV": 1000.0},
    units.power: {"640 W": 640.0, "1.5 kW": 1500.0},
    units.current: {"15 A": 15.0, "30 mA": 0.03, "15 amps": 15.0},
    units.insulation: {
        "20 MΩ at 500 V": Insulation(ohm=2e7, volt=500.0),
        "20 MΩ @ 500 V DC": Insulation(ohm=2e7, volt=500.0),
        "20 MΩ@500VDC": Insulation(ohm=2e7, volt=500.0),
        "\u2265 1 MΩ at 500 V": Insulation(ohm=1e6, volt=500.0),
    },
    units.resistance_reading: {
        "88 Ω": ResistanceReading(88.0),
        "open": ResistanceReading(None),
        "open line": ResistanceReading(None),
        "OL": ResistanceReading(None),
        "infinite": ResistanceReading(None),
        "> 2 GΩ": ResistanceReading(2e9, at_least=True),
        "more than 500 MΩ": ResistanceReading(5e8, at_least=True),
    },
    units.drying_rule: {
        "1 mm/day to 40 mm, then 0.5 mm/day": (
            DryingSegment(0.04, 86_400_000.0),
            DryingSegment(None, 172_800_000.0),
        ),
        "1 mm per day up to 40 mm and ½ mm per day thereafter": (
            DryingSegment(0.04, 86_400_000.0),
            DryingSegment(None, 172_800_000.0),
        ),
        "1 week per cm": (DryingSegment(None, 60_480_000.0),),
        "2 days per 2 mm": (DryingSegment(None, 86_400_000.0),),
        "1 mm/day for the first 40 mm": (DryingSegment(0.04, 86_400_000.0),),
    },
}


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [(read, text, value) for read, cases in CASES.items() for text, value in cases.items()],
)
def test_a_quantity_is_read_as_it_is_meant(read, text, expected):
    # Exact equality: everything is computed in fractions and rounded to a float once.
    assert read(text) == expected


@pytest.mark.parametrize(
    ("text", "expected_c"),
    [("21-24 °C", 24.0), ("70 °F ± 5", (70 - 32) / 1.8), ("23 °C +/- 2 °C", 23.0), ("20 °C", 20.0)],
)
def test_what_a_rating_counts_as(text: str, expected_c: float) -> None:
    assert units.rated_temperature(text) == pytest.approx(expected_c, abs=1e-12)
