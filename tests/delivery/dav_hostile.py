"""A small calendar server in a thread that can be told to misbehave, one request at a time."""

from __future__ import annotations

import contextlib
import hashlib
import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from xml.sax.saxutils import escape

_SPACES = 'xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"'
HEAD = '<?xml version="1.0" encoding="utf-8"?>\n'
CALENDAR = "<resourcetype><collection/><C:calendar/></resourcetype>"


@dataclass(frozen=True)
class Request:
    """A request as it came in."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Hostile:
    """The server: what it holds, what was asked, and the trick it plays.

    `trick` is shown each request; where it returns true it has answered, or chosen not to.
    """

    url: str = ""
    store: dict[str, bytes] = field(default_factory=dict)
    collections: set[str] = field(default_factory=lambda: {"/cal/"})
    asked: list[Request] = field(default_factory=list)
    trick: Callable[[Handler, Request], bool] | None = None
    etag_prefix: str = ""
    etag_after_put: bool = True
    stopping: threading.Event = field(default_factory=threading.Event)

    @property
    def place(self) -> str:
        return f"{self.url}/cal/"

    def count(self, method: str) -> int:
        return sum(each.method == method for each in self.asked)

    def etag(self, path: str) -> str:
        return f'{self.etag_prefix}"{hashlib.sha256(self.store[path]).hexdigest()[:16]}"'


class Handler(BaseHTTPRequestHandler):
    """Answers as a calendar server does, unless the trick answers first."""

    protocol_version = "HTTP/1.1"
    home: Hostile

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the base names it so
        """Say nothing."""

    def handle_one_request(self) -> None:
        """A client that goes away is no error of ours."""
        with contextlib.suppress(OSError):
            super().handle_one_request()

    def answer(self, status: int, body: bytes = b"", **headers: str) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def cut(self) -> None:
        """Break the connection off without an answer."""
        self.close_connection = True
        self.connection.close()

    def drip(self, text: bytes, *, pause_s: float = 0.05) -> None:
        """Send an octet now and then, until the client has had enough."""
        self.close_connection = True
        with contextlib.suppress(OSError):
            for octet in text:
                self.wfile.write(bytes([octet]))
                self.wfile.flush()
                if self.home.stopping.wait(pause_s):
                    return

    def multistatus(self, *responses: str) -> None:
        body = f"{HEAD}<multistatus {_SPACES}>{''.join(responses)}</multistatus>".encode()
        self.answer(207, body, Content_Type="application/xml")

    def resource(self, path: str, *, data: bool, href: str | None = None) -> str:
        text = escape(self.home.store[path].decode())
        found = f"<C:calendar-data>{text}</C:calendar-data>" if data else ""
        return response(href or path, f"<getetag>{self.home.etag(path)}</getetag>{found}")

    def serve(self) -> None:
        length = int(self.headers.get("Content-Length", 0))
        headers = {name.lower(): value for name, value in self.headers.items()}
        request = Request(self.command, self.path, headers, self.rfile.read(length))
        self.home.asked.append(request)
        if self.home.trick is None or not self.home.trick(self, request):
            self.honest(request)

    def honest(self, request: Request) -> None:
        """Answer as one should."""
        store = self.home.store
        match request.method:
            case "PROPFIND" if request.path in self.home.collections:
                inside = [path for path in store if path.startswith(request.path)]
                members = [self.resource(path, data=False) for path in inside]
                self.multistatus(response(request.path, CALENDAR), *members)
            case "REPORT":
                text = request.body.decode()
                wanted = re.findall(r"<href>(.*?)</href>", text)
                uids = re.findall(r"<C:text-match[^>]*>(.*?)<", text)
                wanted += [
                    path
                    for path, data in store.items()
                    if any(f"UID:{uid}".encode() in data for uid in uids)
                ]
                here = [path for path in wanted if path in store]
                self.multistatus(*(self.resource(path, data=True) for path in here))
            case "GET" if request.path in store:
                self.answer(200, store[request.path], ETag=self.home.etag(request.path))
            case "MKCALENDAR":
                self.home.collections.add(request.path)
                self.answer(201)
            case "PUT":
                self.put(request)
            case _:
                self.answer(404)

    def put(self, request: Request) -> None:
        store, path = self.home.store, request.path
        wanted = request.headers.get("if-match")
        present = path in store
        if (wanted is None) is present or (wanted and wanted != self.home.etag(path)):
            self.answer(412)
            return
        store[path] = request.body
        etag = {"ETag": self.home.etag(path)} if self.home.etag_after_put else {}
        self.answer(204 if present else 201, **etag)


for each_method in ("PROPFIND", "REPORT", "GET", "PUT", "MKCALENDAR"):
    setattr(Handler, f"do_{each_method}", Handler.serve)


def response(href: str, props: str) -> str:
    return (
        f"<response><href>{href}</href><propstat><prop>{props}</prop>"
        "<status>HTTP/1.1 200 OK</status></propstat></response>"
    )


@contextlib.contextmanager
def hostile() -> Iterator[Hostile]:
    """A server of our own, stopped at the end."""
    home = Hostile()
    handler = type("Bound", (Handler,), {"home": home})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    home.url = f"http://127.0.0.1:{server.server_address[1]}"
    running = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    running.start()
    try:
        yield home
    finally:
        home.stopping.set()
        server.shutdown()
        server.server_close()
        running.join(timeout=10)


def elapsed_s(run: Callable[[], object]) -> float:
    """How long something took."""
    before_s = time.monotonic()
    run()
    return time.monotonic() - before_s
