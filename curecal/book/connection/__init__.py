"""Where a book is, and opening it: a file or a database on a server."""
