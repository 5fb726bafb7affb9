"""Writes the sample jobs: an invented studio that makes a necklace and a table for a craft fair.

``python tests/make_all.py`` runs it; the same content makes the same bytes.
"""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.job import write_job
from chainplan.model.piece.weave_names import WeaveNames
from chainplan.weave.library import load_weave, weave_keys

if TYPE_CHECKING:
    from pathlib import Path

PRICED = datetime.date(2027, 1, 8)
START = datetime.date(2027, 1, 11)

_PRICES = [
    {"item": "sterling-silver", "price": Decimal("1.05"), "per": "g"},
    {"item": "wire premium sterling-silver", "price": Decimal("0.35"), "per": "g"},
    {"item": "copper", "price": Decimal("16.00"), "per": "kg"},
    {"item": "stainless-304", "price": Decimal("14.00"), "per": "kg"},
    {"item": "titanium", "price": Decimal("0.12"), "per": "g"},
    {"item": "argon", "price": Decimal("95.00"), "per": "cylinder"},
    {"item": "electrode tip", "price": Decimal("2.40"), "per": "each"},
    {"item": "clasp", "price": Decimal("3.20"), "per": "each"},
]

NECKLACE: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Evening necklace",
            "quantity": 1,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "temper": "annealed",
            "length": 450.0,
            "clasp length": 12.0,
            "due": datetime.date(2027, 1, 22),
            "notes": "invented sample: spring clasp sewn in before welding",
        }
    ],
    "bench": [{"group": "job", "setting": "start date", "value": START}],
    "prices": [_PRICES[n] | {"date": PRICED, "note": "invented"} for n in (0, 1, 5, 6, 7)],
    "stock": [
        {
            "kind": "wire",
            "metal": "sterling-silver",
            "temper": "annealed",
            "size": 1.0,
            "amount": 2.0,
            "pack": 1.0,
            "note": "invented",
        },
        {"kind": "mandrel", "size": 3.5, "amount": 1.0, "note": "invented"},
    ],
    "parts": [
        {
            "piece": "Evening necklace",
            "part": "spring clasp",
            "kind": "spring",
            "place": 0.0,
            "from": "end",
            "covers": 12.0,
        }
    ],
}

CRAFT_FAIR: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Byzantine necklace",
            "quantity": 1,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "length": 450.0,
            "clasp length": 12.0,
            "due": datetime.date(2027, 2, 5),
        },
        {
            "name": "Amber chain",
            "quantity": 1,
            "weave": "double-link",
            "wire": 1.0,
            "inner": 4.5,
            "metal": "sterling-silver",
            "length": 420.0,
            "clasp length": 10.0,
            "due": datetime.date(2027, 2, 5),
            "notes": "amber drop in the middle, hung before welding in its setting",
        },
        {
            "name": "Copper cable bracelet",
            "quantity": 4,
            "weave": "single-link",
            "wire": "16SWG",
            "mandrel": 6.0,
            "metal": "copper",
            "temper": "half-hard",
            "length": "7.5 in",
            "clasp length": 15.0,
            "due": datetime.date(2027, 2, 12),
            "list price": Decimal("48.00"),
        },
        {
            "name": "Steel cuff",
            "quantity": 2,
            "weave": "european-4-in-1",
            "wire": 1.2,
            "inner": 5.0,
            "metal": "stainless-304",
            "length": 180.0,
            "rows": 7,
            "due": datetime.date(2027, 2, 12),
            "notes": "strip, pliers only at the ends",
        },
        {
            "name": "Collar panel",
            "quantity": 1,
            "weave": "european-4-in-1",
            "wire": 1.0,
            "inner": 4.2,
            "metal": "copper",
            "length": 60.0,
            "rows": 21,
            "closing way": "as many as possible beforehand",
            "notes": "sheet to be sewn on cloth",
        },
        {
            "name": "Two-tone necklace",
            "quantity": 1,
            "section": 1,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "length": 120.0,
            "clasp length": 12.0,
            "due": datetime.date(2027, 2, 19),
            "notes": "copper in the middle",
        },
        {
            "name": "Two-tone necklace",
            "section": 2,
            "weave": "single-link",
            "wire": 1.2,
            "inner": 4.8,
            "metal": "copper",
            "rings": 25,
        },
        {
            "name": "Two-tone necklace",
            "section": 3,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "length": 120.0,
        },
        {
            "name": "Persian bracelet",
            "quantity": 2,
            "weave": "full-persian-6-in-1",
            "wire": 1.0,
            "inner": 5.8,
            "metal": "stainless-304",
            "length": 190.0,
            "clasp length": 12.0,
            "due": datetime.date(2027, 2, 19),
        },
        {
            "name": "Pendant rings",
            "quantity": 1,
            "weave": "loose-joins",
            "wire": 0.8,
            "inner": 4.0,
            "metal": "sterling-silver",
            "rings": 24,
            "notes": "the day's other joins",
        },
        {
            "name": "Titanium hoops",
            "quantity": 1,
            "weave": "loose-joins",
            "wire": 0.9,
            "inner": 12.0,
            "metal": "titanium",
            "rings": 12,
            "due": datetime.date(2027, 1, 29),
        },
    ],
    "bench": [
        {"group": "job", "setting": "start date", "value": START},
        {"group": "money", "setting": "labour per hour", "value": Decimal("32.00")},
        {"group": "calendar", "setting": "days off", "value": "2027-01-25"},
    ],
    "prices": [row | {"date": PRICED, "note": "invented"} for row in _PRICES],
    "stock": [
        {
            "kind": "wire",
            "metal": "sterling-silver",
            "temper": "annealed",
            "size": 1.0,
            "amount": 6.0,
            "pack": 1.0,
            "note": "invented",
        },
        {"kind": "wire", "metal": "copper", "size": "16SWG", "amount": 10.0, "pack": 5.0},
        {"kind": "mandrel", "size": 3.5, "amount": 1.0},
        {"kind": "mandrel", "size": 6.0, "amount": 1.0},
    ],
    "parts": [
        {
            "piece": "Byzantine necklace",
            "part": "spring clasp",
            "kind": "spring",
            "place": 0.0,
            "from": "end",
            "covers": 12.0,
        },
    ],
    "fittings": [
        {
            "piece": "Amber chain",
            "fitting": "amber drop",
            "kind": "stone setting",
            "where": "middle",
            "length": 14.0,
            "connecting rings": 0,
            "mass": 1.6,
            "price": Decimal("22.00"),
            "delivery days": 0,
            "heat kind": "amber",
            "notes": "in a silver setting; its bail goes round the chain",
        },
        {
            "piece": "Persian bracelet",
            "fitting": "end cap",
            "kind": "other",
            "where": "start",
            "length": 6.0,
            "connecting rings": 0,
            "mass": 0.7,
            "price": Decimal("1.80"),
            "delivery days": 0,
            "heat kind": "epoxy",
            "fitted": "after welding",
            "notes": "glued on when all is welded",
        },
    ],
    "recorded": [
        {
            "metal": "sterling-silver",
            "wire": 1.0,
            "power": 12.0,
            "hits": 1,
            "tip": "sharp",
            "note": "invented",
        }
    ],
}

PIECES: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Cable chain",
            "quantity": 2,
            "weave": "single-link",
            "wire": "18AWG",
            "inner": 4.0,
            "metal": "sterling-silver",
            "length": "40 cm",
        },
        {
            "name": "Byzantine bracelet",
            "quantity": 1,
            "weave": "byzantine",
            "wire": "1.0mm",
            "mandrel": 3.5,
            "metal": "copper",
            "length": "7.5 in",
            "clasp length": 12.0,
        },
        {
            "name": "Earring joins",
            "quantity": 1,
            "weave": "loose-joins",
            "wire": "0.8mm",
            "inner": 3.0,
            "metal": "sterling-silver",
            "rings": 16,
        },
    ]
}

_INVENTED = [
    {"group": "job", "setting": "start date", "value": START},
    {"group": "money", "setting": "labour per hour", "value": Decimal("32.00")},
    {"group": "money", "setting": "margin percent", "value": Decimal("35.00")},
    {"group": "money", "setting": "tax percent", "value": Decimal("20.00")},
    {"group": "quote", "setting": "shop", "value": "Studio Ebb and Flood (invented)"},
    {"group": "quote", "setting": "contact", "value": "1 Example Quay, Sampletown"},
    {
        "group": "quote",
        "setting": "terms",
        "value": "Half when you order, the rest when you take it. Repairs are free for two years.",
    },
]

STONE: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Rock pool necklace",
            "section": section,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "length": 225.0,
        }
        | (
            {
                "due": datetime.date(2027, 2, 5),
                "customer": "Ms Invented",
                "minutes": "finish 15",
                "closing way": "only where needed beforehand",
            }
            if section == 1
            else {}
        )
        for section in (1, 2)
    ],
    "fittings": [
        {
            "piece": "Rock pool necklace",
            "fitting": "spring clasp",
            "kind": "clasp",
            "where": "start",
            "length": 12.0,
            "mass": 1.2,
            "price": Decimal("4.50"),
            "heat kind": "spring",
        },
        {
            "piece": "Rock pool necklace",
            "fitting": "opal in a silver setting",
            "kind": "stone setting",
            "where": "between 1 and 2",
            "length": 18.0,
            "mass": 3.4,
            "price": Decimal("64.00"),
            "delivery days": 5,
            "heat kind": "opal",
            "fitted": "after welding",
            "notes": "eyes of the setting are closed cold",
        },
        {
            "piece": "Rock pool necklace",
            "fitting": "end ring",
            "kind": "end ring",
            "where": "end",
            "length": 6.0,
            "mass": 0.4,
            "price": Decimal("1.20"),
            "delivery days": 0,
        },
        {
            "piece": "Rock pool necklace",
            "fitting": "engraving on the setting",
            "kind": "extra",
            "price": Decimal("12.00"),
        },
    ],
    "bench": _INVENTED,
    "prices": [
        *({**price, "date": PRICED, "note": "invented"} for price in _PRICES),
        {"item": "hallmark", "price": Decimal("19.00"), "per": "each", "date": PRICED},
        {"item": "extra gift box", "price": Decimal("3.50"), "per": "each", "date": PRICED},
    ],
}

DANGLES: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Drip earring",
            "quantity": 2,
            "weave": "single-link",
            "wire": 0.9,
            "inner": 3.2,
            "metal": "sterling-silver",
            "length": 45.0,
            "due": datetime.date(2027, 2, 5),
        },
        {
            "name": "Shell charm",
            "quantity": 3,
            "weave": "byzantine",
            "wire": 0.8,
            "inner": 2.9,
            "metal": "sterling-silver",
            "rings": 10,
        },
    ],
    "fittings": [
        {
            "piece": "Drip earring",
            "fitting": "ear wire",
            "kind": "ear wire",
            "where": "start",
            "length": 18.0,
            "connecting rings": 0,
            "mass": 0.4,
            "price": Decimal("1.10"),
            "fitted": "after welding",
        },
        {
            "piece": "Drip earring",
            "fitting": "glass drop",
            "kind": "pendant",
            "where": "end",
            "length": 12.0,
            "wire": 0.8,
            "inner": 4.0,
            "mass": 0.9,
            "price": Decimal("0.80"),
            "limit": 150.0,
            "conductivity": 1.0,
            "source": "invented: as its maker says",
        },
        {
            "piece": "Shell charm",
            "fitting": "bail",
            "kind": "bail",
            "where": "start",
            "length": 7.0,
            "mass": 0.3,
            "price": Decimal("0.60"),
        },
    ],
    "bench": _INVENTED,
    "prices": [
        *({**price, "date": PRICED, "note": "invented"} for price in _PRICES),
        {"item": "extra pattern drawing", "price": Decimal("10.00"), "per": "job", "date": PRICED},
    ],
}

COOLING = """\
# invented: simulated, with errors of 0.4 K; 12 J into ring 229, thermometer on it
time (s),temperature (°C)
-6,20.1
-4,20.3
-2,21.1
1,201.1
2,161.3
3,133.1
4,111.2
5,95.2
6,82.1
7,73.2
8,65.8
9,60.5
10,55.3
15,42.4
20,35.9
25,34.1
30,30.2
35,29.8
40,27.9
45,26.6
50,25.8
55,25.1
60,24.9
65,24.2
70,24.3
75,22.6
80,23.0
85,22.4
90,22.8
95,21.4
100,21.9
105,21.9
110,21.1
115,22.0
120,21.5
125,21.7
130,21.6
135,20.8
140,20.8
145,20.9
"""
"""A cooling curve of the necklace, made by its own heat model with an arc share of 0.55, an
exposure of 0.38, a force of 14 mN and a room of 20.4 °C, and read with errors of 0.4 K."""

DESIGNS: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {
            "name": "Two-tone Byzantine",
            "quantity": 1,
            "weave": "byzantine",
            "wire": 1.0,
            "inner": 3.5,
            "metal": "sterling-silver",
            "length": 190.0,
            "clasp length": 12.0,
            "design": "gold connectors",
            "notes": "invented sample",
        },
        {
            "name": "Sun and sea cuff",
            "quantity": 1,
            "weave": "european-4-in-1",
            "wire": 0.9,
            "inner": 3.6,
            "metal": "sterling-silver",
            "length": 150.0,
            "rows": 21,
            "lies": "laid flat",
            "design": "sun and sea",
        },
        {
            "name": "Graduated chain",
            "quantity": 1,
            "weave": "single-link",
            "wire": 1.2,
            "inner": 3.5,
            "metal": "copper",
            "length": 420.0,
            "clasp length": 12.0,
            "grade inner": 6.0,
            "grade way": "to the middle and back",
        },
    ],
    "designs": [
        {
            "design": "gold connectors",
            "rule": "part",
            "which": "connector",
            "metals": "gold-14ct-yellow",
        },
        {
            "design": "sun and sea",
            "rule": "picture",
            "which": "sun-and-sea.png",
            "metals": "brass, copper",
        },
        {"design": "sun and sea", "rule": "border", "which": "1", "metals": "copper"},
    ],
    "bench": [{"group": "job", "setting": "start date", "value": START}],
    "prices": [
        *(_PRICES[n] | {"date": PRICED, "note": "invented"} for n in (0, 2, 5, 6, 7)),
        {
            "item": "gold-14ct-yellow",
            "price": Decimal("48.00"),
            "per": "g",
            "date": PRICED,
            "note": "invented",
        },
        {
            "item": "hallmark",
            "price": Decimal("9.50"),
            "per": "each",
            "date": PRICED,
            "note": "invented",
        },
        {
            "item": "brass",
            "price": Decimal("11.00"),
            "per": "kg",
            "date": PRICED,
            "note": "invented",
        },
    ],
    "stock": [
        {"kind": "mandrel", "size": size, "amount": 1.0, "note": "invented"}
        for size in (3.6, 4.2, 4.8, 5.4)
    ],
}

SAMPLE_FILES = {
    "necklace.xlsx": NECKLACE,
    "necklace.toml": NECKLACE,
    "craft-fair.xlsx": CRAFT_FAIR,
    "pieces.csv": PIECES,
    "designs.xlsx": DESIGNS,
    "stone-necklace.toml": STONE,
    "dangles.toml": DANGLES,
}


def draw_sun_and_sea(path: Path) -> Path:
    """Draw the picture of the sample cuff: a sun over a wave, in the colours of its metals."""
    import numpy as np
    from PIL import Image

    from chainplan.reference.colours import colour_of_metal

    high, wide = 60, 240
    y, x = np.mgrid[:high, :wide] + 0.5
    metal = np.full((high, wide), -1)
    metal[np.hypot(x - 120, y - 24) < 21] = 0
    wave = 43 + 6 * np.sin(x / wide * 6 * np.pi)
    metal[y > wave] = 1
    dots = np.zeros((high, wide, 4), dtype=np.uint8)
    for number, name in enumerate(("brass", "copper")):
        colour = colour_of_metal(name)
        shade = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
        dots[metal == number] = (*shade, 255)
    Image.fromarray(dots).save(path, optimize=False)
    return path


def write_samples(folder: Path) -> list[Path]:
    """Write every sample into a folder."""
    weaves = WeaveNames.of(load_weave(key) for key in weave_keys())
    picture = draw_sun_and_sea(folder / "sun-and-sea.png")
    (folder / "cooling.csv").write_text(COOLING, encoding="utf-8")
    jobs = [
        write_job(content, folder / name, weaves=weaves) for name, content in SAMPLE_FILES.items()
    ]
    return [*jobs, folder / "cooling.csv", picture]
