"""What was sent with a form, read: numbers, instants, pictures; tried on the job; judged."""
