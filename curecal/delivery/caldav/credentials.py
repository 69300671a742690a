"""A user's name and password for a server: from the environment, else from a netrc file.

Neither ever stands in an address, a message, a log or an exception.
"""

from __future__ import annotations

import netrc
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from curecal.errors import SourceError
from curecal.machine import is_open_to_others

USER = "CURECAL_CALDAV_USER"
PASSWORD = "CURECAL_CALDAV_PASSWORD"  # noqa: S105 - the name of a variable, not what it holds
NETRC = "NETRC"


@dataclass(frozen=True, slots=True)
class Credentials:
    """Who we are to a server; what is secret of it is never shown."""

    user: str
    password: str = field(repr=False)


def credentials_for(
    host: str, environment: Mapping[str, str], *, home: Path | None
) -> Credentials | None:
    """The credentials for a server.

    Args:
        host: The server's name, as it stands in the address.
        environment: The environment's variables.
        home: The user's own folder, if there is one.

    Returns:
        What the environment says, else the netrc file's entry of exactly this host; None where
        there is neither.

    Raises:
        SourceError: only one of the two variables is set (`credentials-half`), the user's name
            cannot be sent (`credentials-colon`), or the file cannot be read (`netrc-unreadable`),
            is not one (`netrc-damaged`), or is open to others (`netrc-open`).
    """
    user, password = environment.get(USER), environment.get(PASSWORD)
    if user and password:
        return _checked(Credentials(user, password))
    if user or password:
        raise SourceError("credentials-half", user=USER, password=PASSWORD)
    named = environment.get(NETRC)
    if named:
        return _from_netrc(Path(named), host)
    found = None if home is None else home / ".netrc"
    return _from_netrc(found, host) if found is not None and found.exists() else None


def _from_netrc(path: Path, host: str) -> Credentials | None:
    """The entry of a host; a default entry is for no host in particular, and is not used."""
    _refuse_open(path)
    try:
        entry = netrc.netrc(str(path)).hosts.get(host)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SourceError("netrc-unreadable", path=str(path), reason=reason) from None
    except (netrc.NetrcParseError, UnicodeDecodeError, ValueError):
        # What the parser complains of may be the password itself.
        raise SourceError("netrc-damaged", path=str(path)) from None
    if host == "default" or entry is None or not entry[2]:
        return None
    return _checked(Credentials(entry[0], entry[2]))


def _refuse_open(path: Path) -> None:
    """Refuse a file of passwords that is another user's, or that others may read."""
    try:
        found = path.stat()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SourceError("netrc-unreadable", path=str(path), reason=reason) from None
    if not stat.S_ISREG(found.st_mode):
        raise SourceError("netrc-damaged", path=str(path))
    if is_open_to_others(found):
        raise SourceError("netrc-open", path=str(path))


def _checked(found: Credentials) -> Credentials:
    # The colon ends the name in what is sent (RFC 7617, 2).
    if ":" in found.user:
        raise SourceError("credentials-colon")
    return found
