"""How exactly heat is followed, and what is left out because nobody would feel it.

Measured with ``tests/bench/bench_tuning.py heat``: kernel tables and runs of a chain of 1500 rings
and a sheet of 20 by 20, and the modes of a chain of 140, all of 1 mm sterling wire, with most heat
and good links. *Left out* is the bound on what a table leaves out, which the limits are lowered by.
"""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import Tunable, tuned


@frozen
class HeatTuning:
    """The numbers of the heat stage that are no physics."""

    largest_modal: int = tuned(
        2000,
        "Nodes up to which a piece is followed exactly, by its modes.",
        chosen="measured: 2000 nodes take about 2 s and 100 MB a corner",
        less="pieces of a thousand rings are told with a bound on what is left out",
        more="time grows as the cube of the nodes: 4000 take 16 s a corner",
    )
    whole_piece: int = tuned(
        150,
        "Nodes up to which a kernel table holds the whole piece: every ring feels every other.",
        chosen="judgement: smaller than a patch in a sheet, so cutting one out saves nothing",
        less="a short chain is told with a bound",
        more="300: what is left out of a chain of 180 is 12 % less, the table as large",
    )
    wanted_k: float = tuned(
        0.5,
        "Proved bound on what is left out that is aimed at first. [K]",
        chosen="judgement: below what any thermometer at a bench tells",
        less="0.25: left out of the chain 0.69 instead of 0.79 K",
        more="1.0: the same patches, as the next smaller ones are above it",
    )
    allowed_k: float = tuned(
        5.0,
        "Computed bound that will do where the first one would take large patches. [K]",
        chosen="measured: trades the bound against memory as below; a tenth of the least rise "
        "that a limit allows",
        less="2.5: left out of the sheet 3.9 instead of 7.2 K, half as much memory again",
        more="10: left out of the sheet 11 K, two fifths less memory",
    )
    large_patch: int = tuned(
        200,
        "Nodes of a patch from which on that is asked.",
        chosen="measured: 100 changes nothing; patches of a chain stay below it and are proved",
        less="100: the same",
        more="400: left out of a sheet of 400 rings 1.4 instead of 7.2 K for an eighth more "
        "memory, since a patch is then nearly the whole sheet",
    )
    most_near: int = tuned(
        1000,
        "Most nodes of a patch.",
        chosen="measured: half and twice change neither piece; one patch takes about a megabyte",
        less="wide sheets of well-joined rings are told with a wider bound",
        more="tables of sheets take hundreds of megabytes",
    )
    most_wide: int = tuned(
        3000,
        "Most nodes of the wider patches on which the bound is computed.",
        chosen="measured: half and twice change neither piece; three times a patch, and only "
        "seven of them",
        less="the wide patch leaves out nearly as much as the patch itself",
        more="the bound takes longer than the table",
    )
    radii: tuple[int, ...] = tuned(
        (3, 4, 5, 6, 8, 10, 12, 14, 17, 20, 24, 28, 34, 40, 50, 60, 80, 100, 130, 160, 200),
        "Sizes of patches that are tried, in links from their centre.",
        chosen="judgement: steps of a fifth, so that none is a quarter larger than need be",
        less="patches end before heat does",
        more="finer steps: more tries for a patch hardly smaller",
    )
    columns: int = tuned(
        72,
        "Times at which a curve of a table is kept.",
        chosen="measured: the bound of the sheet gains little beyond it",
        less="36: left out of the chain 1.49 instead of 0.79 K, of the sheet 9.2 instead of 7.2 K",
        more="144: 0.62 and 6.7 K, twice the memory",
    )
    scale_s: float = tuned(
        1.0,
        "Time from which on the spacing of those times grows. [s]",
        chosen="measured: half and twice change the bound by 3 %",
        less="0.5: left out of the chain 3 % more",
        more="2.0: 3 % less, though the first second is told with fewer times",
    )
    tail_share: float = tuned(
        1e-3,
        "Share of the slowest decay that is left when a table ends.",
        chosen="measured: the chain's bound halves and doubles with it, memory by 3 %",
        less="0.0005: left out of the chain 0.59 instead of 0.79 K",
        more="0.002: 1.20 K",
    )
    grain_k: float = tuned(
        2e-4,
        "Curves that agree to this are stored once. [K]",
        chosen="measured: half gains 0.5 % of the bound for 8 % more memory",
        less="1e-4: as said",
        more="a larger bound, less memory",
    )
    felt_k: float = tuned(
        1e-4,
        "Sources that never give as much are not listed. [K]",
        chosen="judgement: as above",
        less="longer lists in every sum",
        more="a larger bound",
    )
    most_classes: int = tuned(
        2500,
        "Kinds of surroundings up to which each has a patch of its own; beyond, rings of several "
        "metals are taken as alike whose nearest neighbours are.",
        chosen="measured: a plain sheet of 100 000 rings has 962 at its edges, with a picture in "
        "three metals 15 129",
        less="pictures in small sheets are told with a wider bound",
        more="4000 patches of 500 rings take a minute and half a gigabyte",
    )
    links_known: int = tuned(
        1,
        "Links out to which the metals of such rings have to be the same.",
        chosen="measured: of 100 000 rings with a picture in three metals, good links: "
        "1306 patches, the worst of 40 rings 14 K too cool if all its sources came at once, half "
        "of them less than 1.3 K",
        less="0: a ring beside another metal is told as though it were far from it",
        more="2: 2582 patches, 7 K and 0.6 K, more than twice the time",
    )
    mixed_probes: int = tuned(
        40,
        "Rings whose own surroundings are followed to see how far off that is.",
        chosen="judgement: spread over all of them; the worst of 40 is passed by one in 40",
        less="the bound rests on few",
        more="longer: each is a patch of its own",
    )
    nodes_at_once: int = tuned(
        30_000,
        "Nodes of patches that are worked on at a time.",
        chosen="judgement: 72 single-precision columns of them take 9 MB",
        less="more calls for the same work",
        more="memory at the peak",
    )
    series_tolerance: float = tuned(
        1e-6,
        "What a Chebyshev series of the decay may leave out, as a share of the start.",
        chosen="judgement: the curves are kept in single precision, whose rounding is 1e-7",
        less="more terms that single precision does not hold",
        more="errors of a thousandth of a kelvin and more",
    )
    terms_at_once: int = tuned(
        16,
        "Terms of that series that are added up in one product.",
        chosen="judgement: wide enough for the product to be quick, small beside the curves",
        less="1: a product of a vector for each term",
        more="memory",
    )
    source_terms: int = tuned(
        4000,
        "Most terms of the sum for heat that spreads round one ring.",
        chosen="judgement: microseconds after a pulse in a large ring; later moments need fewer",
        less="the first instants of a hot spot are told too cool",
        more="nothing but for moments that no pulse is as short as",
    )
    between_s: tuple[float, ...] = tuned(
        (2.0, 6.0, 15.0, 40.0, 100.0, 250.0),
        "Seconds after a weld at which the highest temperatures are looked for by modes.",
        chosen="judgement: ratios of two to three; a peak is flat over as long as it took to come",
        less="a peak at a part between two of them is told some tenths of a kelvin too low",
        more="longer runs",
    )
    later_s: tuple[float, ...] = tuned(
        (1.0, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0),
        "The same where kernels are summed, for places that are not welded themselves.",
        chosen="judgement: as above, closer, since a table has no exact peak",
        less="as above",
        more="longer runs",
    )
    moments_at_once: int = tuned(
        512,
        "Moments at which the temperatures of a piece are worked out together.",
        chosen="judgement: 512 of 2000 nodes take 8 MB",
        less="more calls for the same work",
        more="memory at the peak",
    )
    fine_peaks: int = tuned(
        150,
        "Nodes up to which peaks are looked for in double precision.",
        chosen="judgement: rounding of single precision is 1e-4 K; double is as quick for so few",
        less="single precision sooner, with differences in the last digit told",
        more="longer: peaks take most of a run's time",
    )
    fine_field: int = tuned(
        1000,
        "Nodes up to which whole fields are worked out in double precision.",
        chosen="judgement: as above; a field is one moment, so more nodes are still quick",
        less="as above",
        more="longer pages of temperatures",
    )
    strongest: int = tuned(
        6,
        "Neighbours of each ring after whose weld its peak is looked for.",
        chosen="judgement: a ring of a sheet has four to six neighbours; further ones warm it less",
        less="a peak from the weld of a weaker neighbour is missed",
        more="more moments to sum for peaks that are lower",
    )
    most_idle: int = tuned(
        200,
        "Nodes not welded themselves, such as parts, whose peaks are looked for one by one.",
        chosen="judgement: pieces have a handful of parts",
        less="the last parts of a crowded piece are looked at with everything else",
        more="longer where many rings are closed beforehand",
    )
    most_stretches: int = tuned(
        64,
        "Stretches into which a long part, such as a glue line, is cut.",
        chosen="judgement: eight ring radii each; a glue line of half a metre has as many",
        less="heat at one place of a long part is spread over more of it",
        more="more nodes than the part's rings",
    )
    slow_s: float = tuned(
        0.5,
        "Time of the slowest wave from which on fingers feel a ring at its join. [s]",
        chosen="judgement: after 3 s, half of what handling a join takes, e^(−6) is left; brass, "
        "copper, silver and gold of 1 to 2 mm lie at 0.02 to 0.4 s, stainless and titanium above 1",
        less="the modes of more metals are doubled for nothing that a hand would feel",
        more="4: stainless of 1.2 mm counts as one temperature, though its join does not yet",
    )


tuning = Tunable(HeatTuning())
