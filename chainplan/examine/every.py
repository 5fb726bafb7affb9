"""Loads every check: importing a module enters its checks into the list."""

from chainplan.examine import rest_of_plan  # noqa: F401
from chainplan.examine.days import appointments, dates  # noqa: F401
from chainplan.examine.heat import chance, limits, networks, waits  # noqa: F401
from chainplan.examine.money import buying, figures, prices, takes, words  # noqa: F401
from chainplan.examine.papers import by_hand, charts, joins, quotes, weaving_pages  # noqa: F401
from chainplan.examine.piece import counts, fittings, lengths, masses  # noqa: F401
from chainplan.examine.printed import paper, week, workbook  # noqa: F401
from chainplan.examine.space import poses, reach  # noqa: F401
from chainplan.examine.told import (  # noqa: F401
    at_bench,
    bench_sheet,
    gained,
    numbers,
    sampled,
    sentences,
    weaving,
)
from chainplan.examine.welding import earthed, orders, pulses  # noqa: F401
