"""Plan + language + display units → sentences: the only reader of message texts.

Report, explanation and JSON forms are made here as plain data; nothing here prints, reads a
clock or computes a date.
"""
