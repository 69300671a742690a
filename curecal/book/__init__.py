"""The job book: what was planned, told and sent, kept for good in SQLite or PostgreSQL.

Importing this package loads no database library; its modules do.

    with open_book(book_url(named, environment)) as book:   # makes a new one
        with book.writing() as conn:                        # one transaction, all or nothing
            ...
        with book.reading() as conn:                        # one consistent look
            ...

- `connection`: `book_url`, where a book stands and what of that may be shown; `sqlite_file`, making
  a file and looking at one without changing it; `open_book`, the class `Book`;
  `book.lease_now(conn)`.
- `schema`: the tables; `column_types`: instants in UTC, texts that every database takes;
  `content_hashes`: of single rows of revisions, log and published events: `check_book` compares
  them.
- `jobs`: `add_job`, `read_job_of_book`, `list_jobs`, `revisions_of`, `append_entries`.
- `ledger`: `BookLedger`, what was published of a job; `take_over` of an older ledger.
- `outbox.reminders`: reminders to come: `put_wanted`, `withdraw`, `wanted_of`, `jobs_due`.
- `outbox.outbox`: messages: `fire`, `claim`, `move`, `back_off`, `reap`, `expire`.
- `message_states`: which state of a message may follow which, and who may move it; `LostClaim`.
- `meta`: holds, heartbeats, and what else is kept by name.
- `export_restore`: a job as a folder and back; whether the book is whole.

Every function that takes a connection is one part of the caller's transaction. No function reads
the clock of the wall: the caller says what time it is. Leases alone run on the database's own
clock (PostgreSQL), or on the time since this machine started (SQLite).
"""
