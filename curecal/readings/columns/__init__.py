"""What each column of a logger's export holds, and its rows as arrays."""
