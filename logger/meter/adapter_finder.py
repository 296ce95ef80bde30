"""Finds a lost USB adapter again, under whatever name the system gives it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace

from logger.meter.port import PortInfo, PortSettings, UsbIdentity


class AdapterFinder:
    """Remembers which adapter a port belonged to, and proposes where it may be now.

    Args:
        ports: lists the ports that are plugged in now.
    """

    def __init__(self, ports: Callable[[], Sequence[PortInfo]]) -> None:
        self._ports = ports
        self._usb: UsbIdentity | None = None
        self._ports_at_loss: frozenset[str] = frozenset()

    def remember(self, settings: PortSettings) -> None:
        """Keep the identity of the adapter behind a port that has just been opened."""
        device = _device(settings)
        self._usb = next((port.usb for port in self._ports() if port.url == device), None)

    def note_loss(self, settings: PortSettings) -> None:
        """Keep which other ports there were when the port was lost."""
        self._ports_at_loss = frozenset(port.url for port in self._ports()) - {_device(settings)}

    def candidates(self, settings: PortSettings) -> list[PortSettings]:
        """The port itself; for a device, where it may be now under another name.

        A USB adapter is known by its serial number (or its socket, having none), whatever its name. One that cannot
        be known so is taken to be the only port that has appeared since the loss, if that is of the same make.
        Another adapter that has taken over the old name is not opened: its values would be those of another meter.
        """
        device = _device(settings)
        if "://" in device:
            return [settings]
        present = {port.url: port.usb for port in self._ports() if "://" not in port.url}
        usb = self._usb
        appeared = [
            url
            for url, other in present.items()
            if url not in self._ports_at_loss | {device}
            and (usb is None or (other is not None and usb.is_same_make(other)))
        ]
        if usb is None:
            return [settings, *_if_only_one(settings, appeared)]
        adapters = {url: other for url, other in present.items() if other is not None}
        same = [url for url, other in adapters.items() if usb.is_same_device(other)]
        if device in same:
            return [settings]
        if same:
            return _if_only_one(settings, same)
        own = [] if device in adapters else [settings]
        return own + (_if_only_one(settings, appeared) if usb.serial_number is None else [])


def _if_only_one(settings: PortSettings, urls: list[str]) -> list[PortSettings]:
    """The settings under another name, where only one name comes into question."""
    return [replace(settings, url=urls[0])] if len(urls) == 1 else []


def _device(settings: PortSettings) -> str:
    """The device behind the port's name, which may be a link; a URL as it is."""
    return settings.url if "://" in settings.url else os.path.realpath(settings.url)
