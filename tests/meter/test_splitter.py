"""A stream cut into lines, however it comes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from logger.meter.splitter import MAX_LINE_BYTES, LineSplitter


def whole(*lines: bytes) -> list[tuple[bytes, bool]]:
    return [(line, True) for line in lines]


def test_cr_lf_and_crlf_end_a_line_and_empty_lines_are_dropped() -> None:
    splitter = LineSplitter()
    assert splitter.feed(b"1\r2\n3\r\n\r\n\n4\n\r5") == whole(b"1", b"2", b"3", b"4")
    assert splitter.feed(b"\r") == whole(b"5")
    assert splitter.feed(b"\n6\n") == whole(b"6")


def test_bytes_one_at_a_time() -> None:
    splitter = LineSplitter()
    out = [item for byte in b"0.1 V\r\n0.2 V\r\n" for item in splitter.feed(bytes([byte]))]
    assert out == whole(b"0.1 V", b"0.2 V")


def test_a_line_without_end_comes_out_in_pieces_that_are_marked() -> None:
    splitter = LineSplitter()
    out = splitter.feed(b"1" * (3 * MAX_LINE_BYTES + 5))
    out += splitter.feed(b"22\n0.3 V\n")
    assert [is_whole for _, is_whole in out] == [False] * 4 + [True]
    assert b"".join(line for line, _ in out) == b"1" * (3 * MAX_LINE_BYTES + 5) + b"220.3 V"
    assert out[-1] == (b"0.3 V", True)


def test_a_long_line_with_an_end_is_marked_too() -> None:
    out = LineSplitter().feed(b"1" * (MAX_LINE_BYTES + 1) + b"\n2\n")
    assert out == [(b"1" * MAX_LINE_BYTES, False), (b"1", False), (b"2", True)]


def test_the_longest_line_is_whole() -> None:
    assert LineSplitter().feed(b"1" * MAX_LINE_BYTES + b"\n") == whole(b"1" * MAX_LINE_BYTES)


def test_a_megabyte_without_end_leaves_little_behind() -> None:
    splitter = LineSplitter()
    out = splitter.feed(bytes(1_000_000))
    assert sum(len(line) for line, _ in out) + len(splitter.flush()) == 1_000_000
    assert not any(is_whole for _, is_whole in out)


def test_the_first_line_is_marked_when_its_beginning_may_be_missing() -> None:
    splitter = LineSplitter()
    assert splitter.feed(b"73 V", starts_mid_line=True) == []
    assert splitter.feed(b"\r\n0.273 V\r\n") == [(b"73 V", False), (b"0.273 V", True)]


def test_joining_between_cr_and_lf_costs_no_line() -> None:
    splitter = LineSplitter()
    assert splitter.feed(b"\n0.273 V\r\n", starts_mid_line=True) == whole(b"0.273 V")


def test_flush_gives_what_is_held_back_and_starts_anew() -> None:
    splitter = LineSplitter()
    splitter.feed(b"0.2")
    assert splitter.flush() == b"0.2"
    assert splitter.flush() == b""
    assert splitter.feed(b"0.273 V\n") == whole(b"0.273 V")


@given(st.lists(st.binary(max_size=3000)))
def test_nothing_is_lost_added_or_kept_without_bound(pieces: list[bytes]) -> None:
    splitter = LineSplitter()
    out = b""
    for piece in pieces:
        out += b"".join(line for line, _ in splitter.feed(piece))
    rest = splitter.flush()
    stream = b"".join(pieces)
    assert out + rest == stream.replace(b"\r", b"").replace(b"\n", b"")
    assert len(rest) <= MAX_LINE_BYTES


@given(st.binary(max_size=5000), st.lists(st.integers(1, 700), min_size=1))
def test_how_the_stream_is_cut_into_pieces_does_not_matter(stream: bytes, sizes: list[int]) -> None:
    at_once = LineSplitter()
    expected = at_once.feed(stream)
    in_pieces = LineSplitter()
    out: list[tuple[bytes, bool]] = []
    position = 0
    for size in sizes * (len(stream) + 1):
        if position >= len(stream):
            break
        out += in_pieces.feed(stream[position : position + size])
        position += size
    assert [line for line, is_whole in out if is_whole] == [line for line, is_whole in expected if is_whole]
    assert in_pieces.flush() == at_once.flush()
