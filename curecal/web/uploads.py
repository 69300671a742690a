"""Files that somebody has sent and not confirmed yet: kept in memory, a few, for a while."""

from __future__ import annotations

import secrets
import threading
import zlib
from collections import OrderedDict

from curecal.records import Record, record

# Each is up to 12 MB as it was sent; text of a logger packs into a tenth.
_KEPT = 8


@record(kw_only=True)
class Upload(Record):
    """A file as it was sent: for which job, by which link, its name, and its octets packed."""

    job_id: str
    link_id: str
    name: str
    packed: bytes

    @property
    def data(self) -> bytes:
        """The octets as they were sent."""
        return zlib.decompress(self.packed)


class Uploads:
    """Files between the step that shows what they say and the one that takes them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Upload] = OrderedDict()

    def keep(self, job_id: str, link_id: str, name: str, data: bytes) -> str:
        """Keep a file, and return the mark it is asked for by.

        Args:
            job_id: The job it is for.
            link_id: Whose it is: nobody else takes it.
            name: Its name.
            data: Its octets.
        """
        mark = secrets.token_hex(16)
        made = Upload(job_id=job_id, link_id=link_id, name=name, packed=zlib.compress(data))
        with self._lock:
            self._kept[mark] = made
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return mark

    def find(self, mark: str, job_id: str, link_id: str) -> Upload | None:
        """Return a file; None where it is gone, or somebody else's.

        Args:
            mark: What it was kept by.
            job_id: The job it is for.
            link_id: Whose it is.
        """
        with self._lock:
            found = self._kept.get(mark)
        if found is None or (found.job_id, found.link_id) != (job_id, link_id):
            return None
        return found

    def drop(self, mark: str) -> None:
        """Forget a file.

        Args:
            mark: What it was kept by.
        """
        with self._lock:
            self._kept.pop(mark, None)
