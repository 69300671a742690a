"""`curecal paper`: the papers of a job as PDF."""
