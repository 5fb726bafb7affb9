"""What each reference table may hold: its columns, their allowed values and the rows they name.

A change of a table's columns or of what is allowed in them is made here alone;
:mod:`chainplan.reference.checked.check` holds every table to it before the first value is used.
"""

from __future__ import annotations

from chainplan.frozen import frozen

MARKS = {
    "P": "",
    "L": ", as a library holds it",
    "Q": ", as quoted elsewhere",
    "S": ", from memory",
    "M": ", from memory",
    "C": "common practice, no source",
    "K": ", computed",
}
"""What a row's mark adds to its source: P read in print, L in a library of such data, Q quoted in
another work, S and M from memory, C common practice without a source, K computed."""

TEMPERS = ("annealed", "quarter-hard", "half-hard", "hard", "spring")
"""Tempers from soft to hard; a metal may know only some of them."""

WELDABILITY = ("good", "fair", "awkward", "never")
"""How readily a metal welds, from the easiest."""

PRECIOUS = ("silver", "gold", "platinum", "palladium")


@frozen
class Property:
    """A property of a metal: where the model keeps it, its unit and the bounds of any metal."""

    field: str  # of model.metal.Metal
    unit: str
    least: float
    most: float
    by_temper: str = ""  # "": of the metal; "needed": only by temper; "may": both


PROPERTIES = {
    "density": Property(field="density_g_cm3", unit="g/cm3", least=1, most=25),
    "specific_heat": Property(field="specific_heat_j_kg_k", unit="J/(kg K)", least=100, most=1100),
    "mean_specific_heat": Property(
        field="mean_specific_heat_j_kg_k", unit="J/(kg K)", least=100, most=1500
    ),
    "conductivity": Property(field="conductivity_w_m_k", unit="W/(m K)", least=5, most=450),
    "solidus": Property(field="solidus_c", unit="°C", least=400, most=3500),
    "liquidus": Property(field="liquidus_c", unit="°C", least=400, most=3500),
    "latent_heat": Property(field="latent_heat_kj_kg", unit="kJ/kg", least=30, most=600),
    "emissivity": Property(field="emissivity", unit="1", least=0.01, most=1),
    "modulus": Property(field="modulus_gpa", unit="GPa", least=30, most=450),
    "yield": Property(field="yield_mpa", unit="MPa", least=10, most=3000, by_temper="needed"),
    "hardness": Property(field="hardness_gpa", unit="GPa", least=0.1, most=10, by_temper="may"),
}
"""Property in metals.csv → how the model keeps it. Every metal needs each of them; the bounds are
wider than any metal that can be drawn to wire, and catch a slipped point or a wrong unit."""


@frozen
class TableColumn:
    """What one column of a table may hold.

    ``many`` is the character between the words of a cell that holds several; ``allowed``,
    ``pattern`` and ``names`` then hold for each word.
    """

    name: str
    needed: bool = True  # whether the cell must be filled
    number: bool = False
    least: float = float("-inf")
    most: float = float("inf")
    allowed: tuple[str, ...] = ()
    pattern: str = ""  # regular expression that the whole word must match
    pattern_means: str = ""  # the same in words for people
    names: str = ""  # table whose key the word must be
    many: str = ""


@frozen
class Table:
    """What one table may hold: its columns in order, and what tells its rows apart."""

    columns: tuple[TableColumn, ...]
    key: tuple[str, ...]
    named: bool = False  # key, title and aliases are what users write: each stands for one row


def _key(name: str) -> TableColumn:
    return TableColumn(
        name=name, pattern=r"[a-z0-9]+(-[a-z0-9]+)*", pattern_means="lower case, hyphens, digits"
    )


def _number(name: str, least: float, most: float, *, needed: bool = True) -> TableColumn:
    return TableColumn(name=name, number=True, least=least, most=most, needed=needed)


def _unit(*units: str) -> TableColumn:
    return TableColumn(name="unit", allowed=units)


_TITLE = TableColumn(name="title")
_ALIASES = TableColumn(name="aliases", needed=False, many="|")
_SOURCE = TableColumn(name="source", names="sources")
_MARK = TableColumn(name="mark", allowed=tuple(MARKS))
_NOTE = TableColumn(name="note", needed=False)
_COUNTRY = TableColumn(name="country", pattern="[A-Z]{2}", pattern_means="two capital letters")
_PRECIOUS = TableColumn(name="precious", allowed=PRECIOUS)

TABLES = {
    "sources": Table(
        key=("key",),
        columns=(_key("key"), _TITLE, TableColumn(name="grade", allowed=(*"abc", "-"))),
    ),
    "metal_names": Table(
        key=("metal",),
        named=True,
        columns=(
            _key("metal"), _TITLE, _ALIASES,
            TableColumn(name="precious", needed=False, allowed=PRECIOUS),
            TableColumn(name="fineness", needed=False, number=True, least=1, most=1000),
            TableColumn(name="weldability", allowed=WELDABILITY),
            TableColumn(name="weld_note"),
            TableColumn(name="fume_caution", needed=False),
            TableColumn(name="skin_caution", needed=False),
            _SOURCE, _MARK,
        ),
    ),
    "metals": Table(
        key=("metal", "property", "temper"),
        columns=(
            TableColumn(name="metal", names="metal_names"),
            TableColumn(name="property", allowed=tuple(PROPERTIES)),
            TableColumn(name="temper", needed=False, allowed=TEMPERS),
            *(TableColumn(name=name, number=True) for name in ("low", "usual", "high")),
            _unit(*dict.fromkeys(kind.unit for kind in PROPERTIES.values())),
            _SOURCE, _MARK, _NOTE,
        ),
    ),
    "metal_colours": Table(
        key=("metal",),
        columns=(
            TableColumn(name="metal", names="metal_names"),
            TableColumn(name="colour", pattern="#[0-9a-f]{6}", pattern_means="#rrggbb"),
            _SOURCE, _MARK, _NOTE,
        ),
    ),
    "refused_metals": Table(
        key=("metal",),
        named=True,
        columns=(_key("metal"), _TITLE, _ALIASES, TableColumn(name="reason"), _SOURCE, _MARK),
    ),
    "sampling_sizes": Table(
        key=("letter",),
        columns=(
            TableColumn(name="letter", pattern="[A-HJ-NP-R]", pattern_means="one capital letter"),
            _number("lot_least", 2, 1e9), _number("lot_most", 2, 1e9), _number("size", 2, 2000),
            _unit("joins"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "sampling_plans": Table(
        key=("letter", "aql"),
        columns=(
            TableColumn(name="letter", names="sampling_sizes"),
            _number("aql", 0.65, 15), _number("accept", 0, 21),
            _unit("joins"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "metal_limits": Table(
        key=("metal", "effect"),
        columns=(
            TableColumn(name="metal", names="metal_names"),
            TableColumn(
                name="effect", allowed=("darkening", "heat tint", "softening", "firestain")
            ),
            TableColumn(name="tempers", needed=False, many=" ", allowed=TEMPERS),
            *(_number(name, 60, 900) for name in ("limit", "low", "high")),
            _unit("°C"), TableColumn(name="fact"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "cautions": Table(
        key=("caution",),
        columns=(
            _key("caution"),
            TableColumn(
                name="topic",
                allowed=(
                    "estimates", "arc light", "hot metal", "fume", "skin", "argon", "cylinder",
                    "stones and springs", "electricity",
                ),
            ),
            TableColumn(name="metal", needed=False, many=" ", names="metal_names"),
            TableColumn(
                name="sign", needed=False, pattern="[EFMPW][0-9]{3}",
                pattern_means="the code of an ISO 7010 sign, such as W017",
            ),
            _SOURCE, _MARK,
        ),
    ),
    "parts": Table(
        key=("part",),
        named=True,
        columns=(
            _key("part"), _TITLE, _ALIASES, _number("limit", 30, 900), _unit("°C"),
            _number("conductivity", 0.05, 3000, needed=False),
            TableColumn(name="fact"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "hallmark": Table(
        key=("country", "precious"),
        columns=(
            _COUNTRY, _PRECIOUS, _number("exempt_below", 0, 100), _unit("g"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "hallmark_mixed": Table(
        key=("country",),
        columns=(
            _COUNTRY, TableColumn(name="base_metal", allowed=("counts",)), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "fineness": Table(
        key=("country", "precious"),
        columns=(
            _COUNTRY, _PRECIOUS,
            TableColumn(
                name="fineness", many=" ", pattern="[1-9][0-9]{2}",
                pattern_means="three digits, 375 to 999",
            ),
            _unit("parts per thousand"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "gas": Table(
        key=("gas", "property", "temperature_c", "pressure_bar"),
        columns=(
            TableColumn(name="gas", allowed=("argon",)),
            TableColumn(name="property", allowed=("compressibility",)),
            _number("temperature_c", -50, 100), _number("pressure_bar", 0, 400),
            _number("value", 0.5, 1.5), _unit("1"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "skin": Table(
        key=("contact",),
        columns=(
            _number("contact", 0.1, 1e6), _number("limit", 40, 90), _unit("°C"),
            TableColumn(name="fact"), _SOURCE, _MARK, _NOTE,
        ),
    ),
    "blades": Table(
        key=("blade",),
        columns=(
            TableColumn(name="blade"), _number("thickness", 0.05, 1), _unit("mm"),
            _SOURCE, _MARK, _NOTE,
        ),
    ),
}  # fmt: skip
"""Every table beside this file, by its name without ending."""
