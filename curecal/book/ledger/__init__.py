"""What was published of a job."""
