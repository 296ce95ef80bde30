"""A parser of the command line whose own words are in the language that holds: headings, `--help`, and what it refuses.

In: words of the command line, and help that went through `tr`. Out: argparse's help and errors, translated. argparse
asks gettext's global domain for its words, which follows other variables than this program's language; so they are
given, or found again, here. What is not found again, such as a sentence of a later Python, stays in argparse's English.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterable
from typing import Any, NoReturn

from logger.translation import marked, tr

_HEADINGS = {
    "positional arguments": marked("positional arguments"),
    "options": marked("options"),
    "commands": marked("commands"),
}
"""Of the help, as argparse and the parser name them."""

_ARGUMENT = r"argument (?P<option>\S+): "

_REFUSALS = {
    r"the following arguments are required: (?P<names>.*)": marked("Missing: {names}."),
    r"one of the arguments (?P<names>.*) is required": marked("Missing: one of {names}."),
    r"unrecognized arguments: (?P<words>.*)": marked("Not understood: {words}"),
    r"ambiguous option: (?P<word>.*) could match (?P<names>.*?)": marked(
        "{word} may mean one of these: {names}."
    ),
    r"argument COMMAND: invalid choice: (?P<word>.*) \(choose from (?P<names>[^()]*)\)": marked(
        "There is no command {word}. The commands are: {names}."
    ),
    _ARGUMENT + r"invalid choice: (?P<word>.*) \(choose from (?P<names>[^()]*)\)": marked(
        "{option} cannot be {word}. Choose one of these: {names}."
    ),
    _ARGUMENT + r"invalid (int|float) value: (?P<word>.*)": marked("{option}: {word} is not such a number."),
    _ARGUMENT + r"expected one argument": marked("{option} needs a value after it."),
    _ARGUMENT + r"ignored explicit argument (?P<word>.*)": marked("{option} takes no value ({word})."),
    _ARGUMENT + r"not allowed with argument (?P<other>\S+)": marked(
        "{option} and {other} cannot be given together."
    ),
    _ARGUMENT + r"(?P<why>.*)": marked("{option}: {why}"),
}
"""What argparse says where it refuses, as a pattern, and what is shown for it; the first that fits counts."""


class TranslatedHelp(argparse.HelpFormatter):
    """Writes the help."""

    def add_usage(
        self,
        usage: str | None,
        actions: Iterable[argparse.Action],
        groups: Iterable[Any],
        prefix: str | None = None,
    ) -> None:
        """Write how the words follow each other.

        Args:
            usage: as argparse.
            actions: as argparse.
            groups: as argparse.
            prefix: what stands before it; argparse's own word where there is none.
        """
        super().add_usage(usage, actions, groups, tr("usage: ") if prefix is None else prefix)


class TranslatedParser(argparse.ArgumentParser):
    """Parses the words of one command, or of the program.

    Args:
        options: as for argparse.
    """

    def __init__(self, **options: Any) -> None:
        super().__init__(**options, formatter_class=TranslatedHelp, add_help=False)
        self.add_argument("-h", "--help", action="help", help=tr("show this help and exit"))

    def add_argument_group(self, *args: Any, **kwargs: Any) -> Any:
        """Begin a part of the help, as argparse.

        Args:
            args: as argparse; its heading first.
            kwargs: as argparse.
        """
        heading, *others = args or [kwargs.pop("title", None)]
        return super().add_argument_group(tr(_HEADINGS.get(heading, heading or "")), *others, **kwargs)

    def error(self, message: str) -> NoReturn:
        """Refuse the words: how they follow each other, one sentence, and the exit status 2.

        Args:
            message: what argparse says.
        """
        self.print_usage(sys.stderr)
        self.exit(2, f"{self.prog}: {refusal(message)}\n")


def refusal(message: str) -> str:
    """What argparse refuses, in the language that holds.

    Args:
        message: as argparse says it; a reason of our own in it is translated already.
    """
    for pattern, sentence in _REFUSALS.items():
        if found := re.fullmatch(pattern, message, re.DOTALL):
            return tr(sentence).format(**found.groupdict())
    return message
