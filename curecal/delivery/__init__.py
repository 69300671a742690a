"""Bytes to people: a folder, a calendar collection, mail, push and text. Knows no plan."""
