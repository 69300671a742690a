"""The entries of each calendar: the crew's, the electrician's, the owner's."""
