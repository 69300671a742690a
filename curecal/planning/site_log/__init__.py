"""The site log at an instant, and whose word counts for what."""
