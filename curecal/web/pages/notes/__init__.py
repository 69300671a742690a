"""The pages of a form: to fill in, what became of an entry, and how it is put right."""
