"""`curecal note` and `curecal log`."""
