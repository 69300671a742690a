"""Reminders as the octets that go out."""
