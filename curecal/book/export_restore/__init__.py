"""A job as a folder and back, and whether a book is whole."""
