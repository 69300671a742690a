"""Calendars in collections on a CalDAV server."""
