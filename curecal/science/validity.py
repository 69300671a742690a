"""The one guard every equation here stands behind: a value outside the range is refused."""

from __future__ import annotations

from typing import NoReturn

from curecal.errors import OutsideValidity


def refuse(code: str, **params: object) -> NoReturn:
    """Stop an equation that is asked for what it does not hold for.

    Raises:
        OutsideValidity: Always, with the code and parameters given.

    Source:
        Our own rule: refuse rather than extrapolate.
    """
    raise OutsideValidity(code, **params)


def require(quantity: str, value: float, *, low: float, high: float) -> float:
    """Return the value when it lies inside the range an equation holds for [as given].

    Written as a chain of comparisons that must be true, so that NaN is refused too.

    Args:
        quantity: Name of the quantity with its unit, such as `temperature_c`.
        value: In the unit the quantity's name ends in [as given].
        low: Smallest value allowed [as given].
        high: Largest value allowed [as given].

    Raises:
        OutsideValidity: The value is below `low`, above `high`, or not a number.

    Source:
        Our own rule: refuse rather than extrapolate.
    """
    if not low <= value <= high:
        refuse("outside-validity", quantity=quantity, value=value, low=low, high=high)
    return value
