"""The real calendar server of these tests: who may use it, and where it keeps its files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

USER, PASSWORD = "robin", "sesame open"


@dataclass(frozen=True)
class Server:
    """Where the server is, and where it keeps its files."""

    url: str
    folder: Path

    @property
    def home(self) -> str:
        """What the user's calendars are under."""
        return f"{self.url}/{USER}/"

    def collection(self, name: str) -> Path:
        """The folder of one collection."""
        return self.folder / "collection-root" / USER / name

    def resources(self, name: str) -> dict[str, str]:
        """What a collection holds, by the name of the resource."""
        return {
            path.name: path.read_text(encoding="utf-8")
            for path in sorted(self.collection(name).glob("*.ics"))
        }
