"""`curecal readings`."""
