"""The ports of this computer: what there is, how one is set up, and opening it.

A port is a device name (`/dev/ttyUSB0`, `COM3`) or any URL that pyserial knows (`socket://host:port`,
`rfc2217://host:port`, `hwgrep://regexp`), and `sim://house`, the simulated house. Everything above this module
is the same for all of them.
"""

from __future__ import annotations

import errno
import os
import sys
from dataclasses import asdict, dataclass, fields
from typing import Any
from urllib.parse import urlsplit

import serial
from serial.tools import list_ports as hardware

from logger.diagnostics import log_exception
from logger.errors import StillvoltError
from logger.translation import shown_number, tr, tr_kept

READ_TIMEOUT_S = 0.1
"""How long a read waits for the first byte; not a delay of data, only how soon the reader looks up."""

MIN_QUERY_EVERY_S, MAX_QUERY_EVERY_S = 0.02, 60.0

WRITE_TIMEOUT_S = 1.0
"""A query that the port does not take within this time is given up; reading goes on."""

NETWORK_SCHEMES = frozenset(("socket", "rfc2217"))
"""Kinds of port of which nobody knows how long their bytes are held back on the way."""

SIMULATED_SCHEME = "sim"
"""Kind of port behind which there is no meter, but the simulated house."""

URL_SCHEMES = ("socket", "rfc2217", "hwgrep")
"""Kinds of URL that are opened, besides those of registered packages; a visit from somebody else may name any."""

_offered: list[PortInfo] = []
"""Ports of packages that were registered, besides those that are plugged in."""


def port_scheme(url: str) -> str:
    """The kind of a port's URL as it is opened: lower case, without blanks around; empty for a device name."""
    scheme, mark, _ = url.strip().partition("://")
    return scheme.lower() if mark else ""


def is_simulated_port(url: str) -> bool:
    """Whether a port is the simulated house."""
    return port_scheme(url) == SIMULATED_SCHEME


@dataclass(frozen=True)
class PortSettings:
    """How a port is to be opened.

    Args:
        url: device name or URL.
        baud: bits per second.
        data_bits: 5 to 8.
        parity: N, E, O, M or S.
        stop_bits: 1, 1.5 or 2.
        dtr, rts: level of these wires; None leaves them as the system sets them (usually on). Optically
            coupled cables are powered from them.
        query: the line that a meter has to be sent for each value; None for one that sends by itself.
            A line feed ends it, unless it brings a line end of its own.
        query_every_s: seconds from one query to the next; the next one waits for the answer, too.
        meter: name of the meter description in use; None without one.
    """

    url: str
    baud: int = 9600
    data_bits: int = 8
    parity: str = "N"
    stop_bits: float = 1.0
    dtr: bool | None = None
    rts: bool | None = None
    query: str | None = None
    query_every_s: float = 0.5
    meter: str | None = None

    @property
    def is_network(self) -> bool:
        """Whether the bytes come over a network: what was on its way when the port was opened may begin anywhere."""
        return port_scheme(self.url) in NETWORK_SCHEMES

    @property
    def asks_for_volts(self) -> bool:
        """Whether the meter is asked for volts, which it then answers in, whatever its range."""
        return "VOLT" in (self.query or "").upper()

    def framing(self) -> str:
        """Rate and framing as people write them: "9600 baud, 8N1"."""
        return f"{self.baud} baud, {self.data_bits}{self.parity}{self.stop_bits:g}"

    def query_bytes(self) -> bytes:
        """What is sent to ask for one value; empty for a meter that sends by itself."""
        if not self.query:
            return b""
        end = "" if self.query[-1] in "\r\n" else "\n"
        return (self.query + end).encode("latin-1", "replace")

    def to_json(self) -> dict[str, Any]:
        """As a flat JSON object."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> PortSettings:
        """From what `to_json` gave; keys of later versions are ignored.

        Raises:
            StillvoltError: there is no url in it.
        """
        known = {field.name for field in fields(cls)}
        if not isinstance(data, dict) or not isinstance(data.get("url"), str):
            raise StillvoltError(tr("The port settings name no port."), next_step=tr("Choose a port."))
        return cls(**{name: value for name, value in data.items() if name in known})


@dataclass(frozen=True)
class PortInfo:
    """A port that can be chosen.

    Args:
        url: what to open.
        description: for people: what is plugged in there.
        usb: the identity of the USB device (vendor, product, serial number, place), None for other ports.
    """

    url: str
    description: str
    usb: UsbIdentity | None = None


@dataclass(frozen=True)
class UsbIdentity:
    """What a USB adapter says about itself; used to find it again when it comes back under another name."""

    vendor: int
    product: int
    serial_number: str | None
    location: str | None

    def is_same_device(self, other: UsbIdentity) -> bool:
        """Whether both are the same adapter: by its serial number, or, having none, by the socket it is in."""
        if not self.is_same_make(other) or self.serial_number != other.serial_number:
            return False
        return self.serial_number is not None or self.location == other.location

    def is_same_make(self, other: UsbIdentity) -> bool:
        """Whether both are of the same make and kind."""
        return (self.vendor, self.product) == (other.vendor, other.product)


def register_ports(package: str, *ports: PortInfo) -> None:
    """Open URLs of another kind, too.

    Args:
        package: where pyserial then finds the module `protocol_NAME` of a URL `NAME://...`.
        ports: what `list_ports` offers of it.
    """
    if package not in serial.protocol_handler_packages:
        serial.protocol_handler_packages.append(package)
        _offered.extend(ports)


def list_ports() -> list[PortInfo]:
    """The ports that are plugged in now, in the order of their names, then those of registered packages."""
    return [_info(port) for port in sorted(hardware.comports())] + _offered


def _info(port: Any) -> PortInfo:
    name = port.description if port.description not in (None, "n/a", port.device, port.name) else ""
    maker = port.manufacturer or ""
    if maker and maker.lower() not in name.lower():
        name = f"{name} ({maker})" if name else maker
    usb = None
    if port.vid is not None and port.pid is not None:
        usb = UsbIdentity(port.vid, port.pid, port.serial_number, port.location)
    return PortInfo(port.device, name or (tr("USB serial port") if usb else tr("serial port")), usb)


def open_port(settings: PortSettings) -> serial.Serial:
    """Open a port for reading and, on a device, for nobody else.

    Its reads wait up to `READ_TIMEOUT_S` for the first byte.

    Raises:
        StillvoltError: with the reason in one plain sentence.
    """
    url = settings.url.strip()
    if not url:
        raise StillvoltError(
            tr("No port was named."), next_step=tr("Choose one; `stillvolt ports` lists them.")
        )
    if settings.query and not MIN_QUERY_EVERY_S <= settings.query_every_s <= MAX_QUERY_EVERY_S:
        raise StillvoltError(
            tr("A meter is asked every {low} to {high} seconds, not every {seconds}.").format(
                low=shown_number(f"{MIN_QUERY_EVERY_S:g}"),
                high=shown_number(f"{MAX_QUERY_EVERY_S:g}"),
                seconds=shown_number(f"{settings.query_every_s:g}"),
            )
        )
    scheme = port_scheme(url)
    if "://" in url and scheme not in (*URL_SCHEMES, *_registered_schemes()):
        # pyserial knows more: one of them writes what passes into a file that the URL names.
        raise _unknown_kind(scheme)
    if scheme in NETWORK_SCHEMES:
        _refuse_unsafe_parts(scheme, url)
    try:
        port = serial.serial_for_url(
            url,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.data_bits,
            parity=settings.parity,
            stopbits=settings.stop_bits,
            timeout=READ_TIMEOUT_S,
            # pyserial's RFC 2217 client knows none.
            write_timeout=None if url.lower().startswith("rfc2217:") else WRITE_TIMEOUT_S,
            exclusive=True,
        )
        # Before opening, so that a cable that lives on these wires sees no pulse of the wrong level.
        if settings.dtr is not None:
            port.dtr = settings.dtr
        if settings.rts is not None:
            port.rts = settings.rts
        port.open()
    except StillvoltError:
        raise
    except Exception as error:  # URL handlers raise whatever their transport raises
        log_exception(f"opening {url}")
        raise _refusal(url, settings, error) from error
    return port


def _refusal(url: str, settings: PortSettings, error: Exception) -> StillvoltError:
    text = str(error)
    number = getattr(error, "errno", None)
    if "://" in url:
        return _url_refusal(url, error)
    if number in (errno.ENOENT, errno.ENOTDIR, errno.ENXIO, errno.ENODEV) or "FileNotFoundError" in text:
        return StillvoltError(
            tr("There is no port {port}.").format(port=url),
            next_step=tr("Is the cable plugged in? `stillvolt ports` lists the ports there are."),
        )
    if number in (errno.EAGAIN, errno.EWOULDBLOCK, errno.EBUSY) or "PermissionError" in text:
        return StillvoltError(
            tr("Another program is using the port {port}.").format(port=url),
            next_step=tr("Close that program, then start again."),
        )
    if number in (errno.EACCES, errno.EPERM):
        return StillvoltError(
            tr("You may not use the port {port}.").format(port=url), next_step=_permission_hint()
        )
    if number == errno.EISDIR or "25, '" in text or "Inappropriate ioctl" in text:
        return StillvoltError(
            tr("{port} is not a serial port.").format(port=url),
            next_step=tr("`stillvolt ports` lists the ports there are."),
        )
    if isinstance(error, ValueError):
        return StillvoltError(
            tr(
                "The port {port} cannot be set to {baud} baud, {data_bits} data bits, parity {parity}, {stop_bits} "
                "stop bits ({reason})."
            ).format(
                port=url,
                baud=settings.baud,
                data_bits=settings.data_bits,
                parity=settings.parity,
                stop_bits=shown_number(f"{settings.stop_bits:g}"),
                reason=text,
            ),
            next_step=tr("Choose the settings that the meter's manual gives."),
        )
    return StillvoltError(
        tr("The port {port} does not open ({reason}).").format(port=url, reason=tr_kept(text)),
        next_step=tr("Pull the cable and plug it in again, or choose another port."),
    )


def _url_refusal(url: str, error: Exception) -> StillvoltError:
    scheme = port_scheme(url)
    text = str(error)
    if isinstance(error, ValueError) and "not known" in text:
        return _unknown_kind(scheme)
    if scheme == "hwgrep":
        return StillvoltError(
            tr("No port of this computer matches {port}.").format(port=url),
            next_step=tr("Is the cable plugged in? `stillvolt ports` lists the ports there are."),
        )
    if scheme in ("socket", "rfc2217") and not _has_host_and_port(url):
        return StillvoltError(
            tr("{port} is not of the form {scheme}://host:port.").format(port=url, scheme=scheme)
        )
    return StillvoltError(
        tr("{port} does not open ({reason}).").format(port=url, reason=tr_kept(text)),
        next_step=tr("Is the other end switched on and within reach?"),
    )


def _unknown_kind(scheme: str) -> StillvoltError:
    return StillvoltError(
        tr("Nothing is known about ports of the kind {scheme}://.").format(scheme=scheme),
        next_step=tr(
            "A port is usually a device name such as COM3 or /dev/ttyUSB0. It can also be a meter on the network "
            "(socket://host:port, rfc2217://host:port). It can be a search for an adapter (hwgrep://pattern), or the "
            "practice house (sim://house)."
        ),
    )


def _refuse_unsafe_parts(scheme: str, url: str) -> None:
    """Refuse what would be kept in the visit although it is secret, and options that pyserial would pass on.

    Args:
        scheme: the kind of the port.
        url: the whole URL; it is not quoted in the refusal, as it may hold a password.
    """
    if "@" in url:
        raise StillvoltError(
            tr(
                "A port {scheme}://host:port takes no user name and no password: they would stand in the visit."
            ).format(scheme=scheme),
            next_step=tr("Leave out what stands before the @."),
        )
    if "?" in url or "#" in url:
        raise StillvoltError(
            tr("A port {scheme}://host:port takes no options.").format(scheme=scheme),
            next_step=tr("Leave out what stands after the port."),
        )


def _registered_schemes() -> set[str]:
    return {port_scheme(port.url) for port in _offered}


def _has_host_and_port(url: str) -> bool:
    parts = urlsplit(url)
    try:
        return bool(parts.hostname) and parts.port is not None
    except ValueError:
        return False


def _permission_hint() -> str:
    if sys.platform.startswith("linux"):
        user = os.environ.get("USER", "YOURNAME")
        return tr(
            "On this system the members of the group dialout may: run `sudo usermod -aG dialout {user}`, then log out "
            "and in again."
        ).format(user=user)
    return tr("Ask whoever looks after this computer for the right to use serial ports.")
