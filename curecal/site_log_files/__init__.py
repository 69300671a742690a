"""The site log as a file holds it: read, appended to, corrected."""
