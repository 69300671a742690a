"""What the channels need to send: from the environment, or from a file only its owner can read.

    CURECAL_SECRETS           a TOML file with [mail], [text] and [push]
    CURECAL_MAIL_SERVER       host, or host:port
    CURECAL_MAIL_FROM         the address mail comes from, alone
    CURECAL_MAIL_FROM_NAME    the name beside it
    CURECAL_MAIL_SECURITY     starttls (default), tls, none, or none-with-password
    CURECAL_MAIL_USER, CURECAL_MAIL_PASSWORD
    CURECAL_TEXT_GATEWAY      a gateway's address, with {phone} where the number belongs

What is secret is never printed, and stands in no message and not in the job book.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Mapping
from pathlib import Path

import tomli

from curecal.delivery.channels import NoWire, Outcome, Wire, shown
from curecal.delivery.console import ConsoleWire, FileWire
from curecal.delivery.mail import MailServer, MailWire, check_sender
from curecal.delivery.push import GatewayWire, check_gateway, spelled
from curecal.errors import SourceError
from curecal.machine import is_open_to_others
from curecal.records import PlainTable, PlainView

SECRETS = "CURECAL_SECRETS"
# In the open, and a password all the same: only by a word that says so.
_BY_WORD = "none-with-password"
_PORTS = {"starttls": 587, "tls": 465, "none": 25, _BY_WORD: 25}
_HOST = re.compile(r"(?!-)[A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\]")
# A port of TCP is a number of 16 bits.
_MOST_PORT = 65535
NOT_SET = "nothing is set up for this channel"
BY_TELEPHONE = "reached by telephone only"
NOBODY = "curecal@localhost.invalid"
"""Who mail is from that only goes into a folder."""


def settings_from(environment: Mapping[str, str]) -> dict[str, PlainTable]:
    """Return the settings of all channels.

    Args:
        environment: The environment's variables; they come before the file.

    Returns:
        Tables `mail`, `text` and `push`.

    Raises:
        SourceError: the file cannot be read, is no TOML, is open to others, or holds what is no
            setting.
    """
    found: dict[str, PlainTable] = {"mail": {}, "text": {}, "push": {}}
    if environment.get(SECRETS):
        path = Path(environment[SECRETS])
        for name, table in _secrets(path).items():
            _refuse_unknown(path, name, table)
            found[name].update(table)
    for variable, (table_name, key) in _VARIABLES.items():
        if environment.get(variable):
            found[table_name][key] = environment[variable]
    return found


_VARIABLES = {
    "CURECAL_MAIL_SERVER": ("mail", "server"),
    "CURECAL_MAIL_FROM": ("mail", "from"),
    "CURECAL_MAIL_FROM_NAME": ("mail", "name"),
    "CURECAL_MAIL_SECURITY": ("mail", "security"),
    "CURECAL_MAIL_USER": ("mail", "user"),
    "CURECAL_MAIL_PASSWORD": ("mail", "password"),
    "CURECAL_TEXT_GATEWAY": ("text", "gateway"),
}


_KEYS: Mapping[str, frozenset[str]] = {
    name: frozenset(key for table, key in _VARIABLES.values() if table == name)
    for name in ("mail", "text")
}


def _refuse_unknown(path: Path, name: str, table: object) -> None:
    """Refuse what is no setting: passed over, it would be missed when a message should go out.

    Of a value nothing is said, as it may be a password.
    """
    known = _KEYS.get(name)
    if not isinstance(table, dict) or (known is None and name != "push"):
        raise SourceError("secrets-key-unknown", path=str(path), key=shown(name))
    for key, value in table.items():
        if known is not None and key not in known:
            raise SourceError("secrets-key-unknown", path=str(path), key=f"[{name}] {shown(key)}")
        if not isinstance(value, str):
            raise SourceError("secrets-no-text", path=str(path), key=f"[{name}] {shown(key)}")


def mail_server(settings: Mapping[str, PlainView]) -> MailServer | None:
    """Return who takes our mail.

    Args:
        settings: As `settings_from` gives them.

    Returns:
        The server; None where none is set.

    Raises:
        SourceError: a setting is not understood (`mail-setting`), or a password would go over an
            open line to another machine (`mail-password-open`).
    """
    mail = settings.get("mail", {})
    if not mail.get("server"):
        return None
    security = str(mail.get("security", "starttls"))
    if security not in _PORTS:
        raise SourceError("mail-setting", key="security")
    host, _, port = str(mail["server"]).rpartition(":")
    if not host:
        host, port = port, ""
    is_number = port.isascii() and port.isdecimal()
    number = int(port) if is_number else _PORTS[security]
    if (port and not is_number) or not 1 <= number <= _MOST_PORT or not _HOST.fullmatch(host):
        raise SourceError("mail-setting", key="server")
    sender, sender_name = sender_of(settings)
    if sender == NOBODY:
        raise SourceError("mail-setting", key="from")
    if mail.get("user") and security == "none" and not is_this_machine(host):
        raise SourceError("mail-password-open", host=host, word=_BY_WORD)
    return MailServer(
        host=host.strip("[]"),
        port=number,
        sender=sender,
        sender_name=sender_name,
        security="none" if security == _BY_WORD else security,
        user=str(mail["user"]) if mail.get("user") else None,
        password=str(mail["password"]) if mail.get("password") else None,
    )


def wires_for(settings: Mapping[str, PlainView], instead: str | None) -> dict[str, Wire]:
    """Return the way of each channel.

    Args:
        settings: As `settings_from` gives them.
        instead: "console", or "file:FOLDER": where everything goes instead; None for the real
            ways.

    Returns:
        A wire for `email`, `text`, `push` and `phone`.

    Raises:
        SourceError: a setting is not understood, or nothing could be sent by it.
    """
    phone = NoWire(BY_TELEPHONE, Outcome.NEVER)
    if instead == "console":
        return {
            "email": ConsoleWire(),
            "text": ConsoleWire(),
            "push": ConsoleWire(),
            "phone": phone,
        }
    if instead is not None and instead.startswith("file:"):
        folder = Path(instead.removeprefix("file:"))
        mail, text = FileWire(folder), FileWire(folder, ".txt")
        return {"email": mail, "text": text, "push": text, "phone": phone}
    if instead is not None:
        raise SourceError("channel-missing", channel=instead)
    server = mail_server(settings)
    gateway = str(settings.get("text", {}).get("gateway") or "")
    people = _push(settings)
    if gateway:
        check_gateway("[text] gateway", gateway, with_phone=True)
    return {
        "email": MailWire(server) if server else NoWire(NOT_SET),
        "text": GatewayWire(gateway) if gateway else NoWire(NOT_SET),
        "push": GatewayWire(people) if people else NoWire(NOT_SET),
        "phone": phone,
    }


def _push(settings: Mapping[str, PlainView]) -> dict[str, str]:
    """Return each person's push service, every address one that is understood."""
    found: dict[str, str] = {}
    for who, url in settings.get("push", {}).items():
        check_gateway(f'[push] "{who}"', str(url), with_phone=False)
        if found.setdefault(spelled(who), str(url)) != str(url):
            # Two spellings of one person, and two places to send to.
            raise SourceError("gateway-twice", key=f'[push] "{who}"')
    return found


def is_this_machine(host: str) -> bool:
    """Return whether a host is the machine itself, so that nobody else can listen.

    Args:
        host: A name or an address, one of IPv6 also in brackets.

    Returns:
        True for `localhost` and the loopback addresses.
    """
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def sender_of(settings: Mapping[str, PlainView]) -> tuple[str, str]:
    """Return the address and the name that mail comes from.

    Args:
        settings: As `settings_from` gives them.

    Returns:
        Both; an address of nobody where none is set, for mail that goes into a folder.

    Raises:
        SourceError: no mail can be from there (`mail-setting`).
    """
    mail = settings.get("mail", {})
    sender, name = str(mail.get("from") or NOBODY), str(mail.get("name", ""))
    check_sender(sender, name)
    return sender, name


def _secrets(path: Path) -> PlainTable:
    try:
        found = path.stat()
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SourceError("secrets-unreadable", path=str(path), reason=reason) from None
    if is_open_to_others(found, of_root=True):
        raise SourceError("secrets-open", path=str(path))
    try:
        return tomli.loads(data.decode())
    except (tomli.TOMLDecodeError, UnicodeDecodeError):
        # What the parser complains of may be a password.
        raise SourceError("secrets-unreadable", path=str(path), reason="no TOML") from None
