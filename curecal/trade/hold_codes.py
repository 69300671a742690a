"""Codes of hold points, and what each gates."""

from __future__ import annotations

from enum import StrEnum


class HoldCode(StrEnum):
    """A hold point: something that must be recorded before the next step."""

    TEST_ON_DELIVERY = "test-on-delivery"
    TEST_AFTER_LAYING = "test-after-laying"
    INSPECTION_BEFORE_CONCEALMENT = "inspection-before-concealment"
    TEST_POINTS = "test-points"
    TEST_AFTER_EMBEDDING = "test-after-embedding"
    TEST_BEFORE_CONNECTION = "test-before-connection"
    TEST_AFTER_CHISELLING = "test-after-chiselling"
    MOISTURE_TEST = "moisture-test"
    ASK_THE_MAKER = "ask-the-maker"
    COVERED_WET = "covered-wet"
    CEMENT_ON_SULFATE = "cement-on-sulfate"
    PROTECTION = "protection"
    THERMOSTAT = "thermostat"
    CONNECTION = "connection"
    COMPLETE_LIST = "complete-list"
    CURE = "cure"
    RELEASE = "release"


BEFORE_ANY_HEAT = frozenset(
    {
        HoldCode.TEST_AFTER_EMBEDDING,
        HoldCode.TEST_BEFORE_CONNECTION,
        HoldCode.PROTECTION,
        HoldCode.THERMOSTAT,
        HoldCode.CONNECTION,
    }
)
"""What is electrical: before that is on record nobody hears a number to set."""


CABLE_TESTS = frozenset(
    {
        HoldCode.TEST_ON_DELIVERY,
        HoldCode.TEST_AFTER_LAYING,
        HoldCode.TEST_AFTER_EMBEDDING,
        HoldCode.TEST_BEFORE_CONNECTION,
        HoldCode.TEST_AFTER_CHISELLING,
    }
)
"""Every test of the cable, whoever makes it."""


class Gate(StrEnum):
    """The step that a hold point keeps back."""

    EMBEDDING = "embedding"
    COVER = "cover"
    CONNECTION = "connection"
    ENERGIZE = "energize"
