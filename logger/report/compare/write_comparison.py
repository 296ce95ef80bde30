"""Writes a comparison of two visits as a text file, to be printed or given to the household."""

from __future__ import annotations

from pathlib import Path

from logger.catalogue import SOURCE_LANGUAGE
from logger.output_file import refuse_another_visits, refuse_outputs, write_whole
from logger.output_kind import TEXT_TITLE
from logger.report.compare.comparison import Comparison, compare_visits
from logger.report.compare.listing import comparison_text
from logger.translation import in_language, shown_language, tr


def write_comparison(
    comparison: Comparison, path: Path, *, language: str = SOURCE_LANGUAGE, replace: bool = False
) -> None:
    """Write what `stillvolt compare` prints, below a title.

    Args:
        comparison: what is written; compared anew where its sentences are in another language.
        path: the file.
        language: the code of the one that it is written in.
        replace: whether the user wants to replace what somebody else has written.

    Raises:
        StillvoltError: as `refuse_outputs`, or the file cannot be written.
    """
    refuse_outputs([path], [comparison.before.path, comparison.after.path], replace=replace)
    of = f"comparison of {comparison.before.path.name} and {comparison.after.path.name}"
    if not replace:
        refuse_another_visits([path], of)
    with in_language(language):
        if comparison.language != shown_language():
            comparison = compare_visits(comparison.before.path, comparison.after.path)
        text = f"{TEXT_TITLE}\n\n{comparison_text(comparison)}\n"
    write_whole(path, text.encode(), tr("Both visits are unchanged."), of)
