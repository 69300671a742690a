"""What if: changes of a job as people ask for them, and the job read again after each."""
