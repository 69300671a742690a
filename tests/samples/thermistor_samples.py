"""The usual 10 kΩ floor sensor, by its formula and by its table."""

from __future__ import annotations

from curecal.published.plan_equations import usual_thermistor

NTC_10K = usual_thermistor()

NTC_10K_TABLE = (
    (-20.0, 97_006.9),
    (-5.0, 42_316.7),
    (0.0, 32_650.9),
    (1.0, 31_030.8),
    (20.0, 12_490.0),
    (25.0, 10_000.0),
    (30.0, 8_057.0),
)
"""Temperature [°C], resistance [Ω]; from two instrument manuals."""
