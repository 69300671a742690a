"""What the trade talks about: sources, sheets, build-up, site log, rules, findings.

Frozen data only. Nothing here computes a date, reads a file or knows a sentence.
"""
