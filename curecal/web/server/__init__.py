"""The server of the pages: its port and end, its health, and logs that hold no secret."""
