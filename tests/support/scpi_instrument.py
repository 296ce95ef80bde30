"""An instrument on a pseudo-terminal, made of two packages that know nothing of Stillvolt.

`sinstruments` does the transport (terminal, line ends), `scpi-protocol` the understanding of commands (short and long
forms, optional parts, any case). Run with the path that the terminal is to have.
"""

from __future__ import annotations

import itertools
import sys

import scpi
from sinstruments.simulator import BaseDevice, Server


class Instrument(BaseDevice):
    """Answers as SCPI-1999 volume 2 has it: NR3, a header's short and long form."""

    def __init__(self, name: str, **more: object) -> None:
        super().__init__(name, **more)
        self._volts = itertools.cycle([0.2731, 0.2742, 9.9e37, 0.2753])
        value = scpi.FloatCmd(get=lambda: f"{next(self._volts):+.6E}")
        self._commands = scpi.Commands(
            {
                "*IDN": scpi.IDNCmd(get=lambda: "INVENTED,BENCH-1,0001,1.0"),
                "MEASure[:VOLTage]:AC": value,
                "READ": value,
                "FETCh": value,
            }
        )

    def handle_message(self, message: bytes) -> bytes | None:
        """Answer one message; None for one that asks nothing."""
        text = message.decode().strip()
        try:
            command = self._commands[text.removesuffix("?")]
        except KeyError:
            return None
        return f"{command['get']()}\n".encode() if text.endswith("?") else None


if __name__ == "__main__":
    transport = {"type": "serial", "url": sys.argv[1]}
    device = {"class": "Instrument", "package": "__main__", "name": "meter", "transports": [transport]}
    Server(devices=[device]).serve_forever()
