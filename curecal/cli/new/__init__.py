"""`curecal new`: a job file from questions, from a file of answers, or from another job."""
