"""Two plans of one job compared: which dates moved, by how much, and because of what."""
