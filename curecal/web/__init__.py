"""Pages for whoever stands at a door, works on a floor or sits on a sofa: a WSGI app over the book.

It computes nothing of its own: plans come from `planning`, words from `words`, pictures and papers
from their rooms. `routes` is the table of every address, with who may open it.
"""
