"""Who is told what and when: wanted and reconciled as values, then claimed, sent and marked.

`wanted` and `reconcile` are pure. `simulate` plays a job forward. What sends stands beside them:
`fire` makes messages of what is due, `send` brings them out, `daemon` does both again and again.
"""
