"""Plans and comparisons as machine output."""
