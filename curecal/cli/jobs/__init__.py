"""`curecal jobs` and `curecal compare`: looking over many jobs, and over what might be."""
