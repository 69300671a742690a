"""A logger's export as rows of text: where its table starts, its cells and timestamps."""
