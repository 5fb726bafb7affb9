"""How the weld order's pages read, language by language: what stands between their numbers.

English is known word for word. Of the other languages the examiner knows a few nouns and where on a
line numbers stand; which sentences those are is held against the bench sheet, whose own texts are
held against plan.json number by number.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from chainplan.examine.said import DURATION

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.examine.reading import PieceFiles

_D = DURATION
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_W = r"[^\d,·:()]+?"
"""Words between two numbers of one clause."""

_NOUNS: dict[str, dict[str, str]] = {
    "en": {
        "joins": "joins?", "pass": "pass", "passes": "passes", "of": "of", "ring": "ring",
        "row": "row", "column": "column", "continued": "continued", "large": "This piece is large",
        "units": "rings|pairs|threes|fours|columns", "start": "Start: ring", "clip": "clip",
        "front": "FRONT", "back": "BACK", "edge": "EDGE", "sharp": "sharp", "blunt": "blunt",
        "unit": "ring pair three four column", "to": "to", "each": "wait ({}) before each join",
    },
    "de": {
        "joins": "Fugen?", "pass": "Durchgang", "passes": "Durchgänge", "of": "von", "ring": "Ring",
        "row": "Reihe", "column": "Spalte", "continued": "Fortsetzung",
        "large": "Dieses Stück ist groß", "units": "Ringe|Paare|Dreier|Vierer|Spalten",
        "start": "Anfang: Ring", "clip": "Klemme", "front": "VORNE", "back": "HINTEN",
        "edge": "KANTE", "sharp": "spitze Elektrode", "blunt": "stumpfe Elektrode",
        "unit": "Ring Paar Dreier Vierer Spalte",
        "to": "bis", "each": "vor jeder Fuge ({}) warten",
    },
    "fr": {
        "joins": "joints?", "pass": "passe", "passes": "passes", "of": "sur", "ring": "anneau",
        "row": "rang", "column": "colonne", "continued": "suite",
        "large": "Cette pièce est grande", "units": "anneaux|paires|trios|quatuors|colonnes",
        "start": "Début : l’anneau", "clip": "pince", "front": "AVANT", "back": "ARRIÈRE",
        "edge": "CHANT", "sharp": "pointe vive", "blunt": "pointe émoussée",
        "unit": "anneau paire trio quatuor colonne", "to": "à",
        "each": "attendre ({}) avant chaque joint",
    },
    "it": {
        "joins": "giunt[io]", "pass": "passata", "passes": "passate", "of": "di", "ring": "anello",
        "row": "fila", "column": "colonna", "continued": "continua",
        "large": "Questo pezzo è grande", "units": "anelli|coppie|terne|quaterne|colonne",
        "start": "Inizio: l’anello", "clip": "pinza", "front": "DAVANTI", "back": "DIETRO",
        "edge": "BORDO", "sharp": "punta affilata", "blunt": "punta smussata",
        "unit": "anello coppia terna quaterna colonna",
        "to": "a", "each": "attendere ({}) prima di ogni giunto",
    },
    "es": {
        "joins": "juntas?", "pass": "pasada", "passes": "pasadas", "of": "de", "ring": "anilla",
        "row": "fila", "column": "columna", "continued": "sigue",
        "large": "Esta pieza es grande", "units": "anillas|pares|tríos|cuartetos|columnas",
        "start": "Principio: la anilla", "clip": "pinza", "front": "DELANTE", "back": "DETRÁS",
        "edge": "CANTO", "sharp": "punta afilada", "blunt": "punta roma",
        "unit": "anilla par trío cuarteto columna", "to": "a",
        "each": "esperar ({}) antes de cada junta",
    },
}  # fmt: skip


def numbers_in(text: str) -> list[str]:
    """All numbers of a text, in their order.

    Examples
    --------
    >>> numbers_in("every 3rd pair (14 mm), 0.5 µg/cm²")
    ['3', '14', '0.5']
    """
    return _NUMBER.findall(text)


class Wording:
    """The patterns of one language; each has the same groups in every one."""

    def __init__(self, language: str) -> None:
        self.english = language == "en"
        noun = _NOUNS[language]
        self.face_words = {noun[face]: face for face in ("front", "back", "edge")}
        self.tips = {tip: noun[tip] for tip in ("sharp", "blunt")}
        self.units = dict(
            zip(noun["unit"].split(), ("ring", "pair", "three", "four", "column"), strict=True)
        )
        faces = "|".join(self.face_words)
        joins, ring, unit = noun["joins"], noun["ring"], noun["unit"].replace(" ", "|")
        tip = "|".join(map(re.escape, self.tips.values()))
        setting = rf"([\d.e+]+) J, (\d+) hits?, ({tip}) tip"
        if not self.english:
            setting = rf"([\d.e+]+) J, (\d+) [^\W\d]+, ({tip})"
        self.large = f"{noun['large']}:" if language != "fr" else f"{noun['large']} :"
        compiled = {
            "listed": rf"^(\d+) (?:{faces}) (.*)$",
            "steps": rf"(?<!\w){joins} (\d+)(?:–(\d+))?(?: · {setting})?(?= |$)",
            "title": rf"^(?:(?:{faces}) )?{noun['pass']} (\d+) {noun['of']} (\d+): ",
            "group": rf"^(?:(?:{faces}) )?{noun['passes']} (\d+)–(\d+) {noun['of']} (\d+) · "
            rf"{joins} (\d+)–(\d+) · ",
            "group_continued": rf"^{noun['passes']} (\d+)–(\d+).*{noun['continued']}",
            "continued": rf"^{noun['pass']} (\d+), {noun['continued']}: (.*)$",
            "place": rf"{noun['row']} (\d+), {noun['column']} (\d+) \({ring} (\d+)\)",
            "ring": rf"{ring} (\d+)",
            "setting": setting,
            "of_unit": rf"\w+ (\d+) \({ring} (\d+)\)",
            "axis": rf"(?:({unit}) )?(\d+)( mm| · (\d+) mm)?",
            "beside": rf"(?:(?:{unit}|{noun['row']}|at|mm|·|[\d,]+)(?: |$))+",
            "start": rf"{noun['start']} (\d+)",
            "waits_each": noun["each"].format(_D),
            **(_english(setting) if self.english else _others(noun, setting, faces)),
        }
        self.pattern = {name: re.compile(form) for name, form in compiled.items()}
        self.unit_sizes = dict(zip(noun["units"].split("|"), (1, 2, 3, 4, 1), strict=True))
        self._begins_line = noun["pass"]
        self._pass_line = re.compile(_pass_line(noun, joins, ring, english=self.english))

    def line_of_group(self, number: int, text: str) -> re.Match[str] | None:
        """Find the line of one pass that shares its picture with others, in their text."""
        begin = f"{self._begins_line} {number}: "
        at = text.find(begin)
        while at >= 0:
            found = self._pass_line.match(text, at) if at == 0 or text[at - 1] == " " else None
            if found is not None:
                return found
            at = text.find(begin, at + 1)
        return None


def _pass_line(noun: Mapping[str, str], joins: str, ring: str, *, english: bool) -> str:
    """How the line of a pass reads that shares its picture with others."""
    waits = (
        rf"wait .*? before (?:join \d+|each join)(?:, {_D} before join \d+)*"
        rf"|\d+ waits, {_D} in all: see the bench sheet"
    )
    if not english:
        each = noun["each"].replace("({})", _D)
        waits = (
            rf"{each}|[^\d·,]+ {_D} [^\d·,]+? \d+(?:, {_D} [^\d·,]+? \d+)*"
            rf"|\d+ [^\d·,]+, [^\d·,]*{_D}|[^\d·,]+ {_D}"
        )
    return (
        rf"{noun['pass']} \d+: (.*?) · {joins} (\d+)(?:–(\d+))?, {ring} (\d+)"
        rf"(?: {noun['to']} (\d+))?(?: · ({waits}))?(?= |,|:|$)"
    )


def _english(setting: str) -> Mapping[str, str]:
    return {
        "foot": r"^(.*) · page (\d+) of (\d+)$",
        "begins": r"^(?:\d+ copies, each )?\d+ rings?, \d+ joins? to weld"
        r"(?: in \d+ pass(?:es)?)?, about ",
        "loose_begins": r"^(?:FRONT|BACK|EDGE) (?:\d+ copies, each )?\d+ (?:rings?|posts?), "
        r"\d+ hits? each, ",
        "note": "Note: ",
        "what": r"(?:(\d+) copies, each )?(\d+) rings?, (\d+) joins? to weld"
        rf"(?: in (\d+) pass(?:es)?)?, about ({_D}) at the bench\."
        r"(?: (\d+) rings? (?:is|are) closed before weaving\.)?"
        r"(?: (\d+) joins? (?:is|are) welded already\.)?",
        "loose": r"(FRONT|BACK|EDGE) (?:(\d+) copies, each )?(\d+) (?:rings?|posts?), "
        rf"(\d+) hits? each, ([\d.]+) J, (\w+) tip: one after another, no waits, about ({_D}) "
        r"at the bench\.",
        "waits_in_all": rf"(\d+) waits?, ({_D}) in all, where two strokes stand before a number\.|"
        "No waits: weld on without",
        "cover_piece": rf"(?:(\d+) × )?(\d+) rings?, (\d+) joins?, ({_D})",
        "cover_page": rf"joins?, {_D} · page (\d+)",
        "more_turns": r"… and (\d+) more turns",
        "saved": rf"welded while one cools, which saves ({_D})\.",
        "held": r"([\d.]+) to ([\d.]+) mm away from the join",
        "below": r"below (\d+) °C",
        "examples": r"(rings|pairs|threes|fours|columns) ((?:\d+, )*\d+) …"
        r"(?: · (1st|2nd|3rd|4th|\S+))?",
        "clipped": r"Clip the return lead onto ring (\d+)",
        "clip_moved": r"ring \d+; it is moved (once|\d+ times)",
        "set": rf"^Set the welder: {setting}\.",
        "table": r"join \w+ from start\b",
        "row": r"(?P<join>\d+) (?:(?:row (?P<row>\d+), column (?P<column>\d+)|\w+ (?P<unit>\d+)) "
        rf"\()?ring (?P<ring>\d+)\)? (?P<at>-?\d+) mm (?P<wait>–|{_D}) ?"
        r"(?P<hold>\d+–\d+(?: (?:or|and) \d+–\d+)?)?",
        "ends": r"join (\d+) on (.*?)(?: to join (\d+) on (.*?))? · "
        rf"(no waits|wait [^·]*?|\d+ waits, {_D} in all: see the bench sheet)"
        rf"(?: · clip: ([^·]*?))? · {setting}",
        "waits_counted": rf"(\d+) waits, ({_D}) in all",
        "wait_at": rf"({_D}) before join (\d+)",
        "clip_place": r"ring (\d+) from join (\d+)",
    }


def _others(noun: Mapping[str, str], setting: str, faces: str) -> Mapping[str, str]:
    joins, ring, word = noun["joins"], noun["ring"], r"[^\W\d]+"
    return {
        "foot": rf"^(.*) · {word} (\d+) {word} (\d+)$",
        "begins": rf"^(?:\d+ {_W}, {_W} )?\d+ {_W}, \d+ {_W}(?: \d+ {_W})?, {_W} {_D} {_W}\.",
        "loose_begins": rf"^(?:{faces}) (?:\d+ {_W}, {_W} )?\d+ {_W}, [^\d,]*\d+ {_W}, [\d.]+ J, ",
        "note": rf"{word}\s?: ",
        "what": rf"(?:(\d+) {_W}, {_W} )?(\d+) {_W}, (\d+) {_W}(?: (\d+) {_W})?, {_W} ({_D}) {_W}\."
        rf"(?: (\d+) {_W}\.)?(?: (\d+) {_W}\.)?",
        "loose": rf"({faces}) (?:(\d+) {_W}, {_W} )?(\d+) {_W}, [^\d,]*?(\d+) {_W}, ([\d.]+) J, "
        rf"({_W})\s?: [^\d:]*? ({_D}) {_W}\.",
        "waits_in_all": rf"(\d+) {_W}, (?:[^\d,.:]+ )?({_D})(?: [^\d,.:]+)?, [^\d.]+\.",
        "cover_piece": rf"(?:(\d+) × )?(\d+) {_W}, (\d+) {_W}, ({_D}) · ",
        "cover_page": rf"{_W}, {_D} · {word} (\d+)",
        "more_turns": r"… [^\d.]+ (\d+) [^\d:]+:",
        "saved": rf"[;:,] [^\d.]*?({_D})\.",
        "held": rf"([\d.]+) {noun['to']} ([\d.]+) mm {word} ",
        "below": rf"{word} (\d+) °C(?!,)",
        "examples": rf"({noun['units']}) ((?:\d+, )*\d+) …(?: · (?:n\S* )?(\d+))?",
        "clipped": r"(?!)",
        "clip_moved": r"(?!)",
        "set": rf"^[^\d:]+\s?: {setting}\. ",
        "table": r"(?!)",
        "row": rf"(?P<join>\d+) (?:(?:{noun['row']} (?P<row>\d+), {noun['column']} "
        rf"(?P<column>\d+)|{word} (?P<unit>\d+)) \()?{ring} (?P<ring>\d+)\)? (?P<at>-?\d+) mm "
        rf"(?P<wait>–|{_D}) ?(?P<hold>\d+–\d+(?: {word} \d+–\d+)?)?",
        "ends": rf"{joins} (\d+)(?: {word}|\s?:) (.*?)(?:,? {word} {joins} (\d+)(?: {word}|\s?:) "
        rf"(.*?))? · ([^·]+?)(?: · {noun['clip']}\s?: ([^·]*?))? · {setting}",
        "waits_counted": rf"(\d+) [^\d,]+, [^\d]*?({_D})",
        "wait_at": rf"({_D}) [^\d,]+ (\d+)",
        "clip_place": rf"{ring} (\d+) [^\d,]+? (\d+)",
    }


@cache
def wording(language: str) -> Wording:
    """Give the patterns of a language; one that nobody knows is read as English."""
    return Wording(language if language in _NOUNS else "en")


def wording_of(piece: PieceFiles) -> Wording:
    """Give the patterns of the language that a piece's pages are in."""
    return wording(piece.language)
