"""Data loggers' files: read by structure, refused where a guess would be needed, kept by a job."""
