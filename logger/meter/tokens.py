"""A meter's line cut into numbers and words.

In: the bytes of a line. Out: a list of `Token`, or `Refused` with the reason when there is something on the line
that should not be: then a byte may have been corrupted, and what is left would be a guess.
"""

from __future__ import annotations

import json
import re
from enum import Enum, auto
from typing import NamedTuple

from logger.meter.vocabulary import Role, meaning_of
from logger.translation import kept_text


class Refused(Exception):
    """The line cannot be read; the message is the reason, for the user."""


COMMA_NOTE = kept_text("a comma may be a decimal comma or separate thousands")
CAPITAL_PREFIX_NOTE = kept_text(
    "MV may be millivolts or megavolts: teach the meter to Stillvolt (identify it, and type what its display shows)"
)


class AmbiguousComma(Refused):
    """Three digits behind a lone comma: 1,234 is 1.234 or 1234, and other lines of the stream may show which.

    Args:
        number: the number.
        exponent: the power of ten of its unit.
    """

    def __init__(self, number: Token, exponent: int) -> None:
        super().__init__(COMMA_NOTE)
        self.number = number
        self.exponent = exponent


UNKNOWN_WORD_NOTE = kept_text(
    "{word} is not known, so the value may be none of this moment: if the meter always sends it, teach the meter to "
    "Stillvolt (identify it)"
)
_UNKNOWN_WORD_END = UNKNOWN_WORD_NOTE.partition("}")[2]


def unknown_word(text: str) -> Refused:
    """The refusal of a line for a word on it that may say anything of the value."""
    shown = text if len(text) <= MAX_SHOWN_CHARS else f"{text[: MAX_SHOWN_CHARS - 1]}…"
    return Refused(UNKNOWN_WORD_NOTE.format(word=repr(shown)))


UNKNOWN_WORD_SENTENCE = kept_text(
    "{word} is not known, so the value may be none of this moment: if the meter always sends it, teach the meter to "
    "Stillvolt (identify it)."
)


def is_for_unknown_word(note: str) -> bool:
    """Whether a line was refused for a word that is not known."""
    return note.endswith(_UNKNOWN_WORD_END)


def unknown_word_sentence(note: str) -> str:
    """Why lines are refused for a word that is not known, as a whole sentence.

    Args:
        note: the same of one of the lines.
    """
    return UNKNOWN_WORD_SENTENCE.format(word=note.removesuffix(_UNKNOWN_WORD_END))


_OTHER_FORM_END = ", not as when the meter was taught"


def is_for_other_form(note: str) -> bool:
    """Whether a line was refused as it has another form than the meter was taught with."""
    return note.endswith(_OTHER_FORM_END)


MAX_SHOWN_CHARS = 20
"""Longer pieces of a line are shortened in a reason."""


class TokenKind(Enum):
    """What a token is."""

    NUMBER = auto()
    WORD = auto()
    NAME = auto()
    """A word in front of "=" or ":", or a name of a JSON object."""
    OVERLOAD = auto()
    ASIDE = auto()
    """A time of day, a date, a marked counter, a checksum: known not to be the value."""


GLUED, SPACE, FIELD = 0, 1, 2
"""How a token is set apart from the one before it: not at all, by space, by a separator of fields."""


class Token(NamedTuple):
    """A number or a word.

    Args:
        kind: what it is.
        text: as it stands; a decimal comma in a number has become a point.
        start, end: where it stands in the decoded line.
        gap: GLUED, SPACE or FIELD.
        comma: the number was written with a decimal comma.
    """

    kind: TokenKind
    text: str
    start: int
    end: int
    gap: int
    comma: bool = False

    def moved(self, by: int) -> Token:
        """The same token so many places further on."""
        return self._replace(start=self.start + by, end=self.end + by)


_ASIDE_MARK = "\x1f"
"""Stands for the characters of what is known not to be the value, so that places keep their numbers."""

_CONTROL = "".join(map(chr, range(0x20))) + "\x7f\ufeff"
_STRAYS = "\x00\x01\x02\x03\x04\x07\x11\x13\x1a\x7f\ufeff\t "
"""What may touch a number at the ends of a line: NULs of a cable that has just got its power, framing (STX, ETX and
their like), flow control (XON, XOFF). Any other control character there is a damaged digit."""

_OF_A_NUMBER = "0123456789.,+-"
_INNER_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")

_LATIN_SIGNS = {0xB5: "µ", 0xB0: "°", 0xE6: "µ", 0xF8: "°", 0xEA: "Ω"}
"""High bytes that single-byte code pages (Latin 1, code page 437) use for signs of units."""

_SAME_SIGN = str.maketrans(
    {
        "\u2212": "-",
        "∼": "~",
        "⏦": "~",
        "\u223f": "~",
        "\u2126": "\u03a9",
        "\u03bc": "\u00b5",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "℃": "C",
    }
)

_OTHER_BLANK_INSIDE = re.compile(r"\d[\u00a0\u2009\u202f]+\d")
"""Such a blank separates thousands, and nothing else, where it stands between digits."""

_DATE = r"(?:\d{4}[-/.]\d\d?[-/.]\d\d?|\d\d?/\d\d?/\d{2,4}|\d\d?\.\d\d?\.\d{4}|\d\d?-\d\d?-\d{4})"
_HALF = r"(?:\s?[AaPp][Mm]\b)?"
_CLOCK = rf"\d\d?:\d\d:\d\d(?:\.\d+|,\d{{3}}(?=[;\t|]))?{_HALF}(?:Z|[+-]\d\d:?\d\d(?![\d.]))?"
_HOURS = rf"\d\d?:\d\d{_HALF}"
_ASIDE = re.compile(
    rf"(?<![\w.,:+-])(?:{_DATE}(?:[T ]\s*(?:{_CLOCK}|{_HOURS}))?|\d{{8}}T\d{{6}}Z?|{_CLOCK}"
    r"|1\d{9}(?:\.\d+)?|1\d{12})"
    r"(?![\w:]|\.\d)"
    r"|(?<![\w.,#])#\s?\d+(?![\w.]|,\d)"
    rf"|(?<=,){_CLOCK}(?=[,;\t ]|$)"
    rf"|^\s*{_HOURS}(?=[\s,;|])"
    r"|^\s*(?:\[\d+\]|\(\d+\)|(?:[A-Za-z]+ )?\d+[:>)])(?=\s)"
    r"|(?<=[\s,;])(?:CRC|CHK|CS|SUM)\s?[=:]?\s?[0-9A-Fa-f]{2,8}$"
    r"|(?<![\w.])0x[0-9A-Fa-f]+(?![\w.])"
    r"|\*(?!(?<=\s\*)10+$)(?:[0-7][0-9A-Fa-f]|(?=[0-9A-Fa-f]*\d)[0-9A-Fa-f]{4})$"
    r"|(?<=[,;])(?=[0-9A-F]*\d)(?=[0-9A-F]*[B-E])[0-9A-F]{2}(?:[0-9A-F]{2})?$",
    re.ASCII,
)
_TIME_THEN_THREE_DIGITS = re.compile(rf"{_ASIDE_MARK},\d{{3}}$")

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_EXPONENT = re.compile(r"[eE]([+-]?)(\d+)$", re.ASCII)
MIN_DECIMALS_BEFORE_ZERO = 4
"""0.01E0 may be a damaged 0.0150; a display that shows six decimals of a volt, as 0.273150, is rare."""
_BARE_POINT = re.compile(r"^[+-]?[.,]|[.,][eE]")
_SIGN_APART = re.compile(r"[+-] +(?=[\d.,])", re.ASCII)
_OVERLOAD = re.compile(
    r"[+-]?\s?[0O]?\.?[0O]\.?L\.?(?=[munk]?(?:V|A|OHM|HZ|F)?(?:AC|DC|RMS)?(?![A-Z0-9.]))"
    r"|[+-]?(?:INF(?:INITY)?(?![A-Z])|∞)"
    # Above the range: a full range is a round number of whole units.
    r"|(?:>=?|≥)\s?(?:[1-9]0*|75|750)(?:[.,]0+)?(?![0-9.,]\S)(?![0-9])"
    r"|(?:-{2,}\.?-*|-+\.-+|-(?: -)+|>{2,})(?![0-9.+-])",
    re.IGNORECASE | re.ASCII,
)
NO_VALUE_NOTE = kept_text(
    "the meter shows dashes and no value: it may be measuring anew, or it cannot measure what is at its input"
)
"""Dashes stand where a display has nothing to show; that the voltage is too high they do not say."""


def is_no_value(mark: str) -> bool:
    """Whether a mark in the place of a number is made of dashes, which is no overload."""
    return not mark.strip("-. ")


_LETTER = r"A-Za-z\u00b5\u03a9°%~⎓Δ"
_WORD = re.compile(
    r"(?:[munk]?V)?(?:AC|DC)\s*\+\s*(?:AC|DC)(?:V|(?![A-Za-z]))|T(?:RUE)?-?\s?RMS(?![A-Za-z])|(?:[munk]?V)?P-P(?![A-Za-z])"
    rf"|(?:CHAN|CHANNEL|CH|DMM|METER|PROBE|INPUT|SENSOR)\d{{1,2}}(?![\w.]|,(?!\d+\.)\d)|[{_LETTER}]+",
    re.IGNORECASE | re.ASCII,
)
_PROMPT = re.compile(r">(?=\s)|\$(?=[A-Za-z])")
_SQUEEZE = re.compile(r"\s|(?<=[TEte])-(?=[Rr])")
_OPEN, _CLOSE = "([{", ")]}"

_DIGIT_COMMA = re.compile(r"(?<=\d),(?=\d)", re.ASCII)
_DECIMAL_POINT = re.compile(r"\d\.(?!\d*\.)|(?<![\d.])\.\d", re.ASCII)
_OTHER_COMMA = re.compile(r",(?!\s|$|\")(?:(?<!\d,)|(?=\D))", re.ASCII)
_COMMA_CHAIN = re.compile(r"\d,\d+,\d", re.ASCII)
_THOUSANDS_AND_POINT = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{2,3})*,\d{3}\.\d", re.ASCII)
"""Groups of three, or of two and a last one of three as in India."""


def decode(raw: bytes) -> str:
    """The line as text; NULs and control characters at its ends are kept (they move no place).

    Raises:
        Refused: a byte is no character that a meter sends.
    """
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        if any(byte > 0x7F and byte not in _LATIN_SIGNS for byte in raw):
            raise Refused(
                kept_text("it holds bytes that are no text; the port settings may be wrong")
            ) from None
        text = "".join(_LATIN_SIGNS.get(byte) or chr(byte) for byte in raw)
    if _OTHER_BLANK_INSIDE.search(text):
        raise Refused(kept_text("a blank stands inside the number"))
    return text.translate(_SAME_SIGN)


def inner_control(text: str) -> bool:
    """Whether a control character other than a tab stands between the first and the last character of a line."""
    start = len(text) - len(text.lstrip(_CONTROL + " "))
    return _INNER_CONTROL.search(text, start, len(text.rstrip(_CONTROL + " "))) is not None


def tokens_of(text: str) -> list[Token]:
    """The numbers and words of a decoded line, in order.

    Raises:
        Refused: with the reason.
    """
    start = len(text) - len(text.lstrip(_CONTROL + " "))
    end = len(text.rstrip(_CONTROL + " "))
    if start >= end:
        raise Refused(kept_text("the line is empty"))
    before, after = text[:start][-1:], text[end : end + 1]
    for edge, neighbour in ((before, text[start]), (after, text[end - 1])):
        if edge and edge not in _STRAYS and neighbour in _OF_A_NUMBER:
            raise Refused(kept_text("a control character stands where a digit may have been"))
    if before and before in _CONTROL and text[start] in ".,":
        raise Refused(kept_text("a digit may be missing in front of the point"))
    if inner_control(text):
        raise Refused(kept_text("there is a control character in the middle"))
    if text[start] == "{":
        return _json_tokens(text, start, end)
    return _text_tokens(text, start, end, FIELD)


# long: one branch for each kind of character, tried in this order in one pass; none makes sense without those before.
def _text_tokens(text: str, start: int, end: int, first_gap: int) -> list[Token]:
    """Tokens of text[start:end]."""
    body, out = _set_asides(text[start:end], start)
    comma_is_decimal = _comma_is_decimal(body)
    text = text[:start] + body  # asides are blotted out
    position, gap, brackets, quotes = start, first_gap, "", ""
    while position < end:
        char = text[position]
        if char in " \xa0" or char == _ASIDE_MARK:
            gap = max(gap, SPACE)
            position += 1
        elif char in ";\t|" or (
            char == "," and not (comma_is_decimal and text[position + 1 : position + 2].isdigit())
        ):
            if position == start and first_gap == FIELD:
                raise Refused(kept_text("the line begins with a separator; something may be missing"))
            gap = FIELD
            position += 1
        elif char == "@" and text[position - 1 : position + 2] == " @ ":
            gap = FIELD  # "0.273 V @ 50 Hz"
            position += 1
        elif match := _OVERLOAD.match(text, position):
            _not_inside_a_word(text, position, out, gap)
            out.append(Token(TokenKind.OVERLOAD, match[0], position, match.end(), gap))
            position, gap = match.end(), GLUED
        elif (char.isdigit() or char in "+-.,") and (
            token := _number(text, position, end, gap, comma_is_decimal)
        ):
            if gap == GLUED and out and out[-1].kind in (TokenKind.NUMBER, TokenKind.OVERLOAD):
                raise Refused(kept_text("two numbers run into each other"))
            out.append(token)
            position, gap = token.end, GLUED
        elif match := _WORD.match(text, position):
            out.append(Token(TokenKind.WORD, _SQUEEZE.sub("", match[0]), position, match.end(), gap))
            position, gap = match.end(), GLUED
        elif char in ":=":
            position, gap = _sign_of_a_name(text, position, end, out), SPACE
        elif char in _OPEN:
            brackets += _CLOSE[_OPEN.index(char)]
            gap = max(gap, SPACE)
            position += 1
        elif char in _CLOSE and brackets.endswith(char):
            brackets = brackets[:-1]
            gap = max(gap, SPACE)
            position += 1
        elif char in "\"'":
            quotes = quotes[:-1] if quotes.endswith(char) else quotes + char
            gap = max(gap, SPACE)
            position += 1
        elif position == start and _PROMPT.match(text, position):
            gap = max(gap, SPACE)
            position += 1
        elif char in "-_./" and _between_letters(text, position):
            if char == "/" and _divides_a_unit(text, position, end, out):
                raise Refused(kept_text("it is a ratio of units"))
            position += 1
        else:
            raise Refused(
                kept_text("there is a {char} that no meter's line should have").format(char=repr(char))
            )
    if brackets or quotes:
        raise Refused(kept_text("a bracket or a quotation mark is missing"))
    out.sort(key=lambda token: token.start)
    return out


def _set_asides(body: str, offset: int) -> tuple[str, list[Token]]:
    """Blot times, dates, marked counters and checksums out of a text; returns it with their tokens."""
    asides: list[Token] = []

    def set_aside(match: re.Match[str]) -> str:
        touches = body[: match.start()][-1:] in tuple("0123456789.,")
        if match[0][0] == "*" and (touches or body.lstrip()[:1] == "$"):
            _compare_checksum(body[: match.start()], match[0][1:])
        asides.append(Token(TokenKind.ASIDE, match[0], offset + match.start(), offset + match.end(), FIELD))
        return _ASIDE_MARK * len(match[0])

    body = _ASIDE.sub(set_aside, body)
    if _TIME_THEN_THREE_DIGITS.search(body):
        raise Refused(kept_text("three digits after a time may be its milliseconds or the value"))
    return body, asides


def _compare_checksum(text: str, checksum: str) -> None:
    """Compare the characters folded together (exclusive or), as "$...*hh" has it.

    Without the "$" the kind of sum is unknown, but where it touches the number, its star may be a damaged digit.

    Raises:
        Refused: the checksum is another.
    """
    folded = 0
    for char in text.strip(_CONTROL + " ").removeprefix("$"):
        folded ^= ord(char)
    if int(checksum, 16) != folded:
        raise Refused(kept_text("the checksum does not match"))


def _comma_is_decimal(body: str) -> bool:
    """Whether a comma between two digits is a decimal comma; else every comma separates fields."""
    if not _DIGIT_COMMA.search(body):
        return False
    if _DECIMAL_POINT.search(body):
        if _THOUSANDS_AND_POINT.search(body) and body.count(",") == len(_DIGIT_COMMA.findall(body)):
            raise Refused(kept_text("a comma may separate thousands or fields"))
        return False
    if _COMMA_CHAIN.search(body) or _OTHER_COMMA.search(body):
        raise Refused(kept_text("a comma may be a decimal comma or separate fields"))
    return True


def _number(text: str, position: int, end: int, gap: int, comma_is_decimal: bool) -> Token | None:
    """The number at a place of a text; None when there is none.

    Args:
        text: the line.
        position: where the number would begin.
        end: where the text ends.
        gap: how it is set apart from the token before it.
        comma_is_decimal: whether a comma between digits is a decimal comma.

    Raises:
        Refused: it may be damaged.
    """
    begin = position
    sign = ""
    apart = _SIGN_APART.match(text, position)
    if apart:
        sign, position = text[position], apart.end()
    match = _NUMBER.match(text, position, end)
    if not match:
        return None
    word = match[0]
    stop = match.end()
    if not comma_is_decimal and "," in word:
        cut = word.index(",")
        if not word[:cut].lstrip("+-"):
            return None
        # What follows a separating comma is a number of its own.
        word, stop = word[:cut], position + cut
    exponent = _EXPONENT.search(word)
    if word[-1] in ".," or (exponent and _BARE_POINT.search(word)):
        raise Refused(kept_text("a digit may be missing beside the point"))
    if exponent:
        if exponent[1] == "-" and exponent[2] == "0":
            raise Refused(kept_text("a digit of the exponent may be missing"))
        if (
            not exponent[1]
            and not _is_plain_zero(word, exponent[2])
            and abs(float(word.replace(",", "."))) not in (9.9e37, 9.91e37)
        ):
            # IEEE 488.2 NR3 always writes the sign of an exponent; without it, an E may be a damaged digit.
            raise Refused(kept_text("an exponent without a sign may be a damaged digit"))
        if len(exponent[2]) > 2 and not (len(exponent[2]) == 3 and exponent[2][0] == "0"):
            raise Refused(kept_text("no meter has such an exponent"))
    return Token(TokenKind.NUMBER, sign + word.replace(",", "."), begin, stop, gap, comma="," in word)


def _is_plain_zero(number: str, exponent: str) -> bool:
    """Whether an exponent without a sign is zero, behind more decimals than a damaged digit leaves: 0.2731E0.

    Args:
        number: with its exponent.
        exponent: its digits.
    """
    decimals = len(re.split("[eE]", number)[0].replace(",", ".").partition(".")[2])
    return not exponent.strip("0") and decimals >= MIN_DECIMALS_BEFORE_ZERO


def _sign_of_a_name(text: str, position: int, end: int, out: list[Token]) -> int:
    """Take "=" or ":" after a word; return the place after it."""
    if not out or out[-1].kind is not TokenKind.WORD or text[out[-1].end : position].strip(" \"')]"):
        raise Refused(kept_text("there is a {char} in the wrong place").format(char=repr(text[position])))
    if text[position] == "=" and not text[position + 1 : end].strip(" ;,|\t"):
        if all(token.kind is TokenKind.WORD for token in out):
            raise Refused(kept_text("the value is missing"))
        # "0.273 V=" : the sign of direct voltage.
        out.append(Token(TokenKind.WORD, "⎓", position, position + 1, GLUED))
        return position + 1
    if text[position + 1 : end].strip():
        out[-1] = out[-1]._replace(kind=TokenKind.NAME)
    return position + 1


def _not_inside_a_word(text: str, position: int, out: list[Token], gap: int) -> None:
    if gap == GLUED and out and out[-1].end == position:
        raise Refused(kept_text("an overload mark runs into something else"))


def _between_letters(text: str, position: int) -> bool:
    return position > 0 and text[position - 1].isalpha() and text[position + 1 : position + 2].isalpha()


def _divides_a_unit(text: str, position: int, end: int, out: list[Token]) -> bool:
    """Whether a stroke stands between the unit of a number and another unit: 0.273 V/V.

    Args:
        text: the line.
        position: of the stroke.
        end: where the text ends.
        out: the tokens in front of it.
    """
    behind = _WORD.match(text, position + 1, end)
    if behind is None or not out or out[-1].end != position:
        return False
    return meaning_of(out[-1].text).role is Role.UNIT and meaning_of(behind[0]).role is not Role.KIND


_JSON_PIECE = re.compile(
    r'"(?P<text>(?:[^"\\]|\\.)*)"\s*(?P<colon>:)?|(?P<number>-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)'
    r"|(?P<word>true|false|null|-?Infinity|NaN)|[{}\[\],\s]",
    re.ASCII,
)


_IDENTIFIER = re.compile(r"[A-Za-z][\w-]*\d[\w-]*", re.ASCII)


def _json_tokens(text: str, start: int, end: int) -> list[Token]:
    body = text[start:end]
    try:
        json.loads(body)
    except (ValueError, RecursionError):
        raise Refused(kept_text("the JSON object is damaged")) from None
    out: list[Token] = []
    position = start
    gap = FIELD
    while position < end:
        match = _JSON_PIECE.match(text, position, end)
        if not match:
            raise Refused(kept_text("the JSON object is damaged"))
        position = match.end()
        if match["text"] is not None:
            content = match["text"]
            if "\\" in content:
                content = json.loads(f'"{content}"').translate(_SAME_SIGN)
            if match["colon"]:
                out.append(Token(TokenKind.NAME, content, *match.span("text"), FIELD))
                gap = SPACE  # what comes next is its value
                continue
            out += _json_text(content, match.start("text"), gap)
        elif match["number"] is not None:
            number = _number(match["number"], 0, len(match["number"]), gap, comma_is_decimal=False)
            assert number is not None
            out.append(Token(TokenKind.NUMBER, number.text, *match.span("number"), gap))
        elif match["word"] is not None and match["word"] != "null":
            out.append(Token(TokenKind.WORD, match["word"].lstrip("-"), *match.span("word"), gap))
        else:
            continue
        gap = FIELD
    return out


def _json_text(content: str, offset: int, gap: int) -> list[Token]:
    """Tokens of a string in a JSON object; a string that is no meter's text, such as "m1", is one word."""
    if _IDENTIFIER.fullmatch(content):
        return [Token(TokenKind.WORD, content, offset, offset + len(content), gap)]
    try:
        tokens = _text_tokens(content, 0, len(content), gap)
    except Refused:
        return [Token(TokenKind.WORD, content, offset, offset + len(content), gap)]
    return [token.moved(offset) for token in tokens]
