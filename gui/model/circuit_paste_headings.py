"""By which words the columns of a copied table of circuits are recognised, in English and German."""

from __future__ import annotations

from collections.abc import Mapping

from gui.model.circuit_entry import Column

HEADINGS: Mapping[Column, tuple[str, ...]] = {
    Column.PANEL: (
        "panel", "board", "distribution board", "consumer unit", "sicherungskasten", "verteiler", "verteilung",
        "unterverteilung", "unterverteiler", "uv", "kasten", "schrank",
    ),
    Column.NUMBER: (
        "number", "no", "nr", "#", "num", "pos", "position", "place", "slot", "breaker", "breaker no", "circuit no",
        "circuit number", "number at the panel", "nummer", "platz", "sicherung", "sicherung nr", "stromkreis nr",
        "stromkreisnummer", "kreis nr",
    ),
    Column.NAME: (
        "name", "circuit", "circuit name", "description", "label", "designation", "bezeichnung", "stromkreis",
        "beschriftung", "kreis", "benennung",
    ),
    Column.RATING: (
        "rating", "rated current", "current", "amps", "amp", "ampere", "amperes", "a", "size", "breaker size",
        "nennstrom", "nennwert", "absicherung", "strom", "charakteristik", "auslösestrom",
    ),
    Column.LEG: ("leg", "phase", "leg as marked", "legs", "line", "außenleiter", "aussenleiter", "leiter"),
    Column.TWO_POLE: (
        "two-pole", "two pole", "2-pole", "double-pole", "double pole", "poles", "pole", "zweipolig", "2-polig",
        "polzahl", "pole anzahl", "polig",
    ),
    Column.DEVICE: (
        "residual-current device", "residual current device", "rcd", "rccb", "rcbo", "gfci", "fi", "fi-schalter",
        "fi-schutzschalter", "fehlerstromschutzschalter", "fehlerstrom-schutzeinrichtung", "rcd/fi",
    ),
    Column.FEEDS: (
        "feeds", "outlet", "outlets", "feeds / outlet", "feeds/outlet", "loads", "load", "rooms", "room", "area",
        "versorgt", "verbraucher", "raum", "räume", "steckdose", "steckdosen", "speist",
    ),
    Column.POLES: ("poles / plug", "poles/plug", "neutral", "switched poles", "plug", "stecker", "neutralleiter"),
    Column.STAYS: (
        "why it stays on", "stays on", "must stay on", "essential", "essential why", "stay on", "bleibt ein",
        "bleibt an", "muss ein bleiben", "warum es ein bleibt", "notwendig",
    ),
    Column.SHOWN_OFF: ("how shown off", "shown off", "verified by", "spannungsfrei gezeigt durch"),
}  # fmt: skip
"""By which words a heading is recognised, besides the ones of the window. From memory."""
