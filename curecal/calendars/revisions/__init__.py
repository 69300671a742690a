"""One rule of revisions for every channel, and histories read back."""
