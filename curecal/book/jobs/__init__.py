"""Jobs of the book: imported, read back, with their log."""
