"""How near is the same: what a float's last bits, or a change of units, may leave of a number.

Each is far under what anybody reads, and far over what an addition of floats loses.
"""

HAIR_S = 1e-3
"""Seconds: results round up to the second with a millisecond of slack."""
HAIR_K = 1e-6
"""Temperatures: 84.2 °F is 29 °C but for a last bit, and must neither pass nor miss it."""
HAIR = 1e-9
"""Shares, and lengths, currents and trip times in their SI unit: 8 in is 203.2 mm."""
