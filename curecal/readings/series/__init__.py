"""Readings stored beside a job, added to its log, and read back as series."""
