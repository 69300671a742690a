"""Secret links to pages and feeds: made, found, taken back."""
