"""`curecal plan` and `curecal explain`."""
