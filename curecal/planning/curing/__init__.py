"""What lies on what, which waits count, and when each wait has run out."""
