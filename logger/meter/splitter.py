"""Bytes in, lines out: the stream of a port cut at its line ends, with bounded memory.

In: pieces of bytes of any size, as the port gives them. Out: `(line, whole)` pairs without terminators. `whole`
is false for a piece that is no complete line: a part of a line without end, or a line whose beginning was sent
before anybody listened. Such a piece is kept and shown, and never read: half a number looks like a number.
"""

from __future__ import annotations

MAX_LINE_BYTES = 1024
"""Longest line of a meter. The longest forms known (JSON objects with every state of the meter) have some 400
bytes; what goes on for longer is noise."""

_CR, _LF, _CRLF = b"\r", b"\n", b"\r\n"


class LineSplitter:
    """Cuts a stream at CR, LF and CRLF. Empty lines are dropped: they come from CR LF and from LF CR.

    What is longer than `MAX_LINE_BYTES` is handed out in pieces, each marked as not whole, up to the next line
    end; every byte that is no terminator comes out exactly once, and at most `MAX_LINE_BYTES` are held back.
    """

    def __init__(self) -> None:
        self._rest = b""
        self._broken = False

    def feed(self, data: bytes, starts_mid_line: bool = False) -> list[tuple[bytes, bool]]:
        """Take the next bytes of the stream; return what they complete.

        Args:
            data: any number of bytes, in any pieces.
            starts_mid_line: the bytes up to the first line end may lack the beginning of their line, since
                the port was opened while the meter was sending.

        Returns:
            `(line, whole)` pairs in order.
        """
        if data.endswith(_LF) and not (self._rest or self._broken or starts_mid_line):
            # Nearly every piece is one whole line, since a meter pauses after each.
            line = data[:-2] if data.endswith(_CRLF) else data[:-1]
            if line and len(line) <= MAX_LINE_BYTES and _LF not in line and _CR not in line:
                return [(line, True)]
        out: list[tuple[bytes, bool]] = []
        if starts_mid_line:
            if self._rest:
                out.append((self.flush(), False))
            self._broken = True
        *ended, rest = data.replace(_CR, _LF).split(_LF)
        if ended:
            ended[0] = self._rest + ended[0]
            for line in ended:
                if line:
                    self._end(line, out)
                else:
                    # A terminator right after a piece without one ends that broken line.
                    self._broken = False
        else:
            rest = self._rest + rest
        if len(rest) > MAX_LINE_BYTES:
            *pieces, rest = _pieces(rest)
            out += [(piece, False) for piece in pieces]
            self._broken = True
        self._rest = rest
        return out

    @property
    def rest(self) -> bytes:
        """What is held back of an unfinished line."""
        return self._rest

    @property
    def is_mid_line(self) -> bool:
        """Whether what is held back lacks the beginning of its line."""
        return self._broken

    def flush(self) -> bytes:
        """Give what is held back of an unfinished line, and start anew (the port was lost or closed)."""
        rest, self._rest, self._broken = self._rest, b"", False
        return rest

    def _end(self, line: bytes, out: list[tuple[bytes, bool]]) -> None:
        whole = not self._broken and len(line) <= MAX_LINE_BYTES
        self._broken = False
        out += [(piece, whole) for piece in _pieces(line)]


def _pieces(data: bytes) -> list[bytes]:
    return [data[i : i + MAX_LINE_BYTES] for i in range(0, len(data), MAX_LINE_BYTES)]
