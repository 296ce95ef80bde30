"""How hard the sentences are to read: those of each package, the help, and the household's page of the example report.

    python scripts/bench/reading_ease.py

Needs textstat 0.7.3 (`pip install 'textstat==0.7.3' 'setuptools<81'`): later ones fetch a dictionary when they run.
Flesch-Kincaid grade: years of school after which a text is read with ease (Kincaid et al. 1975); 7 to 9 is age 12 to
14. `--page FILE` gives that of the household's page of a report that was written before, by any version, and
`--tree FOLDER` that of the whole sentences that stand in the code of any version, catalogue or not.
A place of a sentence counts as a short word. Only what has a verb's length, five words or more, is a sentence.
"""

from __future__ import annotations

import ast
import re
import statistics
import sys
import tempfile
from collections import defaultdict
from html import unescape
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.catalogue import forms_of
from logger.report.document.write_report import write_report
from scripts.catalogues import sentences

DEMO = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"
MIN_WORDS = 5
HARD_GRADE = 12.0
SHOWN = 12


def grade(text: str) -> float:
    """The Flesch-Kincaid grade of a text."""
    import textstat  # noqa: PLC0415 - not among the packages of the project

    return float(textstat.flesch_kincaid_grade(text))


def plain(sentence: str) -> str:
    """A sentence of the catalogue as it is read: its places filled with a word, without marks."""
    return re.sub(r"\{[^}]*\}", "bed", sentence).replace("&", "").replace("**", "")


def household_page(folder: Path) -> str:
    """The words of the first page of the example's report."""
    page = folder / "page.html"
    write_report(DEMO, page)
    return page_words(page)


def page_words(page: Path) -> str:
    """The words of the household's page of a report."""
    html = page.read_text(encoding="utf-8")
    first = html[html.index('id="household"') :].partition('<section id="')[0]
    return unescape(
        re.sub(r"\s+", " ", re.sub(r"<(svg|style|script).*?</\1>|<[^>]*>", " ", first, flags=re.DOTALL))
    )


def sentences_in_code(tree: Path) -> list[str]:
    """The whole sentences among the texts of a tree's code, each once: they begin large and end with a full stop."""
    found = set()
    for path in sorted([*(tree / "gui").rglob("*.py"), *(tree / "logger").rglob("*.py")]):
        code = ast.parse(path.read_text(encoding="utf-8"))
        within = {
            id(part) for node in ast.walk(code) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)
        }
        described = {id(node.value) for node in ast.walk(code) if isinstance(node, ast.Expr)}
        for node in ast.walk(code):
            if isinstance(node, ast.JoinedStr):
                found.add(
                    "".join(str(p.value) if isinstance(p, ast.Constant) else "bed" for p in node.values)
                )
            elif (
                isinstance(node, ast.Constant)
                and isinstance(node.value, str)
                and id(node) not in within | described
            ):
                found.add(node.value)
    return [
        text for text in sorted(map(plain, found)) if re.fullmatch(r"[A-Z“].*[.?!]", text) and _is_long(text)
    ]


def _is_long(text: str) -> bool:
    return len(text.split()) >= MIN_WORDS


def row(name: str, texts: list[str]) -> str:
    """A row of the table; empty where there is too little to say."""
    if len(texts) < 2:
        return ""
    values = sorted(map(grade, texts))
    above = sum(value > HARD_GRADE for value in values)
    top = statistics.quantiles(values, n=10)[-1]
    return f"| {name} | {len(values)} | {statistics.median(values):.1f} | {top:.1f} | {above} |"


def main() -> None:
    """Print a row for each package."""
    if sys.argv[1:2] == ["--page"]:
        words = page_words(Path(sys.argv[2]))
        print(f"{len(words.split())} words, grade {grade(words):.1f}")
        return
    if sys.argv[1:2] == ["--tree"]:
        print(row(sys.argv[2], sentences_in_code(Path(sys.argv[2]))))
        return
    by_package: dict[str, list[str]] = defaultdict(list)
    for message in sentences():
        if not message.id:
            continue
        one, many, _ = forms_of(message)
        place = str(message.locations[0][0])
        name = "the help" if place.endswith(".md") else "/".join(place.split("/")[:2])
        by_package[name] += filter(_is_long, map(plain, filter(None, (one, many))))
    print("| texts | how many | grade, median | 90th percentile | above 12 |")
    print("| --- " * 5 + "|")
    for name, texts in sorted(by_package.items()):
        if shown := row(name, texts):
            print(shown)
    every = [text for texts in by_package.values() for text in texts]
    print(row("all", every))
    with tempfile.TemporaryDirectory() as folder:
        page = household_page(Path(folder))
    print(f"| the household's page, as a whole | {len(page.split())} words | {grade(page):.1f} | | |\n")
    hard = sorted((-grade(text), text) for text in every)
    for value, text in [(-negative, text) for negative, text in hard if -negative > HARD_GRADE][:SHOWN]:
        print(f"- {value:.1f}: {text}")


if __name__ == "__main__":
    main()
