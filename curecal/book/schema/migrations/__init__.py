"""How the form of the book changed, revision by revision; a revision is never edited again."""
