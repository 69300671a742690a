"""The office's pages: all jobs, and everything about one."""
