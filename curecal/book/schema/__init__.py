"""The tables of the job book, their triggers, and how its form is made."""
