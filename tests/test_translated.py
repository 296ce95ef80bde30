"""Every sentence that somebody reads goes through gettext: it is looked for in the source, not in one run of it."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from string import Formatter

import pytest

ROOT = Path(__file__).parents[1]

DONE = (
    "gui",
    "logger/__main__.py",
    "logger/body_circuit.py",
    "logger/cautions.py",
    "logger/cli",
    "logger/clock.py",
    "logger/diagnostics.py",
    "logger/errors.py",
    "logger/frozen_value.py",
    "logger/meter",
    "logger/metrology",
    "logger/name_list.py",
    "logger/night",
    "logger/output_file.py",
    "logger/output_kind.py",
    "logger/plain_text.py",
    "logger/recording",
    "logger/repeats.py",
    "logger/report/archive",
    "logger/report/blank_form.py",
    "logger/report/compare",
    "logger/report/document",
    "logger/report/export/write_export.py",
    "logger/report/output_paths.py",
    "logger/report/reading_doubts.py",
    "logger/report/visit_name.py",
    "logger/settling",
    "logger/simulation",
    "logger/sweep",
    "logger/toml_file.py",
    "logger/typed_number.py",
    "logger/visit/hands_free_trigger.py",
    "logger/visit/records",
    "logger/visit/results",
    "logger/visit/storage",
    "logger/visit/trace.py",
    "logger/written_files.py",
)
"""Folders and files whose sentences are looked at."""

BY_THEIR_READER = frozenset({"gui/actions/table.py", "gui/actions/registry.py"})
"""Tables whose texts are translated where they are shown."""

NO_WORDS = frozenset(
    {
        "gui/model/circuit_paste_headings.py",
        "gui/sound/speech.py",
        "logger/cli/translated_parser.py",
        "logger/meter/vocabulary.py",
        "logger/report/document/figures/svg.py",
        "logger/visit/records/essential_circuits.py",
        "logger/visit/records/fact_names.py",
        "logger/visit/storage/schema.py",
    }
)
"""The words of meters, spreadsheets, shapes, a database, what argparse says and what a shell runs, written as text."""

FOR_DEVELOPERS = "gui/dev/"
"""Opens a part alone on a made-up visit: whoever writes the code and the tests see it, and no user of the window."""

TRANSLATORS = ("tr", "tr_n", "marked", "kept_text")

NOT_SHOWN = (
    "setObjectName",
    "setStyleSheet",
    "log_exception",
    "logged",
    "AssertionError",
    "PermissionError",
    "RuntimeError",
    "SerialException",
    "OperationalError",
    "ValueError",
    "Template",
    "compile",
    "startswith",
    "property",
)
"""Calls whose texts nobody reads but Qt, another program and whoever writes the code."""

COMMANDS_OF_THE_HOUSE = frozenset(
    {
        "at 12 s: lamp on",
        "breaker {} off",
        "breaker {} on",
        "breaker ",
        "charger off",
        "charger on",
        "everything off",
        "everything on",
        "extra rod",
        "lay the wire back",
        "lie still",
        "meter ac",
        "meter dc",
        "meter off",
        "meter on",
        "move the wire",
        "plug cable",
        "probe ",
        "probe in hand",
        "pull cable",
        "reference ",
        "reference building earth",
        "reference earth rod",
        "sit still",
        "stand still",
        "turn over",
        "wet the soil",
    }
)
"""What the simulated house is told, in scenes and control files; the same in every language."""

WORDS_OF_FILES = COMMANDS_OF_THE_HOUSE | frozenset(
    {
        "  stillvolt record {} --visit FILE",
        "A line of the control file was ignored. %s",
        "aquarium heater",
        "circuit ",
        "logger.cli.commands.",
        "pip install 'stillvolt[gui]'",
        "scene_{}.toml",
        "sim://house?scene=practice&control=",
        "stillvolt: ",
        "the house",
        " (spot {})",
        " = true  # as the system sets it",
        " baud, ",
        " comparison.txt",
        " data",
        " form.html",
        " plan.html",
        " night",
        " report.html",
        " {} rows.",
        "'' AS context",
        "'' AS live",
        "'' AS room, '' AS reminder",
        ", asked by ",
        ", not as when the meter was taught",
        "-shm",
        "-wal",
        "<desc>{}: {}</desc>",
        "?mode=ro",
        "?mode=ro&",
        "An exception while %s",
        "Circuit {} (name lost)",
        "Garden flat a year later.visit",
        "Garden flat.visit",
        "Inappropriate ioctl",
        "Object contains unknown field `(.*)`",
        "Object missing required field `(.*)`",
        "Spot {} (name lost)",
        "Stillvolt ",
        "Stillvolt {} (imported)",
        "Two visits compared by ",
        "UTC{}:",
        "a name in the list of tables is no text any more",
        "begun {} ns UTC",
        "breaker read in the sweep",
        "broken off",
        "building earth",
        "by hand",
        "checksum of entry ",
        "checksum of run ",
        "clock ahead",
        "clock set back",
        "clock set",
        "common practice, no source",
        "compared without a part of a recording that was higher than its night",
        "compared without the seconds or minutes in which the voltage was above the meter's range",
        "comparison of {} and ",
        "constant value",
        "constant zero",
        "damaged lines",
        "datetime64[ns, UTC]",
        "decimal place",
        "disk back",
        "disk refuses",
        "disk short",
        "earth rod",
        "exchanged rows",
        "file:",
        "form of {visit}",
        "going on",
        "laptop battery low",
        "late lines",
        "left out",
        "line form",
        "lines ",
        "low battery",
        "low impedance",
        "memory full",
        "meter back",
        "meter silent",
        "motion episode",
        "new_",
        "no value",
        "not comparable",
        "not confirmed",
        "not described",
        "not distinguishable from zero",
        "not distinguishable from {target} V",
        "not distinguishable",
        "not known",
        "not read",
        "only after",
        "only before",
        "other date",
        "pip install 'stillvolt[report]'",
        "port ",
        "port back",
        "port lost",
        "read on different ranges, so that the meter's gain does not cancel",
        "point moved",
        "read once",
        "read with different meters, so that their gain does not cancel",
        "read with meters that nobody described, so that their gain is not taken to cancel",
        "recorded at spots with different names, so that the difference may be that of the spots",
        "recorded at the same time in part, so that neither shows a change of the other",
        "recorder restarted",
        "returned no data",
        "room, reminder",
        "running a thread",
        "same name",
        "similar name",
        "simulated in part",
        "single phase",
        "sleep not prevented",
        "slow meter",
        "split phase",
        "spot changed",
        "stillvolt.diagnostics.",
        "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0",
        "teach again",
        "to be read again",
        "unit assumed",
        "unit changed",
        "unit open",
        "unknown word",
        "visit gone",
        "visit renamed",
        "wetted at the check",
        '<meta name="generator" content="{}"',
    }
)
"""What the log, its files and the contracts call a thing in every language; it is translated where it is shown."""

SQL = re.compile(
    r"\b(SELECT|INSERT|UPDATE|DELETE|PRAGMA|BEGIN|FROM|WHERE|ORDER BY|BETWEEN|AND|IS NULL|CAST|typeof)\b"
)
"""What stands in a text for the database, and in no sentence."""

WORDS = re.compile(r"[A-Za-z]{2,}[,;:]? [A-Za-z]|[A-Z][a-z]+ [a-z(]")


def untranslated(source: str) -> list[str]:
    """The texts in a file that read as words and go through no translation, each as "line: text"."""
    tree = ast.parse(source)
    passed: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            passed.add(id(node.value))
        elif isinstance(node, ast.Assert) and node.msg is not None:
            passed.add(id(node.msg))
        elif isinstance(node, ast.Call) and _name(node.func) in TRANSLATORS:
            passed.update(id(argument) for argument in node.args if isinstance(argument, ast.Constant))
        elif isinstance(node, ast.ClassDef) and "StrEnum" in map(_name, node.bases):
            passed.update(id(member.value) for member in node.body if isinstance(member, ast.Assign))
        elif isinstance(node, ast.Subscript) and _name(node.value) == "Literal":
            passed.update(id(part) for part in ast.walk(node.slice))
        elif isinstance(node, ast.Dict):
            passed.update(
                id(key) for key, value in zip(node.keys, node.values, strict=True) if _is_marked(value)
            )
        elif (
            isinstance(node, ast.keyword) and node.arg == "does"
        ):  # tells what the big button does from the next
            passed.update(id(part) for part in ast.walk(node.value))
        elif isinstance(node, ast.Call) and _name(node.func) in NOT_SHOWN:
            passed.update(id(part) for argument in node.args for part in ast.walk(argument))
    found = []
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        if isinstance(node, ast.JoinedStr):
            texts = [part.value for part in node.values if isinstance(part, ast.Constant)]
            passed.update(id(part) for part in node.values)
            whole = "{}".join(map(str, texts))
            is_id = (
                whole in WORDS_OF_FILES
                or SQL.search(whole)
                or all(re.fullmatch(r"[a-z]*-", str(text)) for text in texts)
            )
            if not is_id and any(re.search(r"(?<![.\w])[A-Za-z]{3,}", str(text)) for text in texts):
                found.append(f"{node.lineno}: {whole}")
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and _reads(node.value):
            found.append(f"{node.lineno}: {node.value}")
    return found


def unseen(source: str) -> list[str]:
    """Sentences that are translated within an f-string, each as "line: call": the catalogues' extractor misses them."""
    return [
        f"{call.lineno}: {ast.unparse(call)}"
        for whole in ast.walk(ast.parse(source))
        if isinstance(whole, ast.JoinedStr)
        for part in whole.values
        if isinstance(part, ast.FormattedValue)
        for call in ast.walk(part)
        if isinstance(call, ast.Call)
        and _name(call.func) in TRANSLATORS
        and any(isinstance(argument, ast.Constant | ast.JoinedStr) for argument in call.args)
    ]


def _is_marked(value: ast.expr) -> bool:
    """Whether a value is a sentence that is translated where it is shown: its key is what the log calls it."""
    return isinstance(value, ast.Call) and _name(value.func) in TRANSLATORS


def unfilled(source: str) -> list[str]:
    """Sentences whose places are filled at once, but not with what they name, each as "line: names"."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not (
            isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format"
        ):
            continue
        inner = node.func.value
        if not (isinstance(inner, ast.Call) and _name(inner.func) in ("tr", "tr_n")):
            continue
        texts = [
            part.value
            for part in inner.args
            if isinstance(part, ast.Constant) and isinstance(part.value, str)
        ]
        given = {keyword.arg for keyword in node.keywords}
        named = [{name for _, name, _, _ in Formatter().parse(text) if name is not None} for text in texts]
        wrong = given.symmetric_difference(set().union(*named))  # a singular may do without its number
        if texts and None not in given and wrong:
            found.append(f"{node.lineno}: {sorted(map(str, wrong))}")
    return found


def hidden(source: str) -> list[str]:
    """Sentences that stand within an f-string, where the catalogues do not find them, each as "line: text"."""
    found = []
    for outer in ast.walk(ast.parse(source)):
        if not isinstance(outer, ast.JoinedStr):
            continue
        for node in ast.walk(outer):
            if isinstance(node, ast.Call) and _name(node.func) in TRANSLATORS:
                texts = [str(part.value) for part in node.args if isinstance(part, ast.Constant)]
                found += [f"{node.lineno}: {text}" for text in texts]
    return found


def _reads(text: str) -> bool:
    return text not in WORDS_OF_FILES and SQL.search(text) is None and WORDS.search(text) is not None


def _name(function: ast.expr) -> str:
    return function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")


@pytest.mark.parametrize(
    ("source", "texts"),
    [
        ('show("Take it back")', ["1: Take it back"]),
        ('show(tr("Take it back"))', []),
        ('show(f"Moved {name} back")', ["1: Moved {} back"]),
        ('show(f"{volts} V")', []),
        ('WORDS = {"wetted at all": marked("Wetted")}', []),
        ('Canvas(f"spot-{number}")', []),
        ('path.with_name(f"{name}.damaged-{number}")', []),
        ('show(tr("Moved {name} back").format(name=name))', []),
        ('show(tr(f"Moved {name} back"))', ["1: Moved {} back"]),
        ('HEAD = marked("What was on?")', []),
        ('class Kind(StrEnum):\n    ZERO = "zero check"', []),
        ('Supply = Literal["split phase"]', []),
        ('part.setObjectName("the list of spots")', []),
        ('def of() -> None:\n    """Nothing is shown."""', []),
    ],
)
def test_what_goes_through_no_translation_is_found(source: str, texts: list[str]) -> None:
    assert untranslated(source) == texts


@pytest.mark.parametrize(
    ("source", "names"),
    [
        ('tr("Moved {spot} back").format(spot=name)', []),
        ('tr("Moved {spot} back").format(name=name)', ["1: ['name', 'spot']"]),
        ('tr_n("One step", "{n} steps", n).format(n=n)', []),
        ('tr_n("{n} step", "{number} steps", n).format(n=n)', ["1: ['number']"]),
    ],
)
def test_a_place_that_is_filled_with_something_else_is_found(source: str, names: list[str]) -> None:
    assert unfilled(source) == names


def _files_of(path: Path) -> list[Path]:
    return [path] if path.is_file() else list(path.rglob("*.py"))


def test_each_sentence_stands_where_the_catalogues_find_it() -> None:
    assert hidden("show(f'{why} {tr(what)} {tr(\"Take it back\")}')") == ["1: Take it back"]
    found = {name: hidden((ROOT / name).read_text(encoding="utf-8")) for name in _files()}
    assert {name: texts for name, texts in found.items() if texts} == {}


def _files() -> list[str]:
    return sorted(file.relative_to(ROOT).as_posix() for name in DONE for file in _files_of(ROOT / name))


def test_each_place_of_a_sentence_is_filled() -> None:
    found = {name: unfilled((ROOT / name).read_text(encoding="utf-8")) for name in _files()}
    assert {name: texts for name, texts in found.items() if texts} == {}


def test_each_sentence_can_be_translated() -> None:
    found = {
        name: texts
        for name in _files()
        if name not in BY_THEIR_READER | NO_WORDS and not name.startswith(FOR_DEVELOPERS)
        if (texts := untranslated((ROOT / name).read_text(encoding="utf-8")))
    }
    assert found == {}


def test_a_sentence_that_is_translated_within_an_f_string_is_found():
    assert unseen("""f"{tr('Bed')} {name}" """) == ["1: tr('Bed')"]
    assert unseen("""f"{tr_n('{n} spot', '{n} spots', n).format(n=n)}" """)
    assert unseen("""f"{tr(NAME)}" """) == unseen("""f"{text}" + tr("Bed")""") == []


def test_no_sentence_is_translated_within_an_f_string():
    found = [
        f"{path.relative_to(ROOT)}:{line}"
        for package in ("gui", "logger")
        for path in sorted((ROOT / package).rglob("*.py"))
        for line in unseen(path.read_text(encoding="utf-8"))
    ]
    assert found == []
