"""Plans welded chainmail, from a spreadsheet row to a weld order on paper.

>>> import chainplan
>>> chainplan.count_rings(
...     weave="single-link", wire="1.0mm", inner="4.0mm", length="100mm", metal="copper"
... ).rings
25
"""

from __future__ import annotations

from chainplan.on_demand import names_on_demand

TYPE_CHECKING = False  # as typing has it, without what importing typing takes
if TYPE_CHECKING:
    from chainplan.errors import ChainplanError, ExaminationError, InputError
    from chainplan.model.job import Job, Piece
    from chainplan.model.plan import Plan
    from chainplan.public.calibrating import calibrate, write_calibrated
    from chainplan.public.counting import count_rings
    from chainplan.public.jobs import check_job, read_job, start_job
    from chainplan.public.learning import learn, write_learned
    from chainplan.public.plan import (
        check_folder,
        check_order,
        examine_plan,
        make_plan,
        plan_tables,
        write_plan,
    )
    from chainplan.public.questions.asking import substitute_rings, what_if
    from chainplan.public.questions.comparing import compare_rings, draw_comparison
    from chainplan.public.questions.designs import preview_designs
    from chainplan.public.questions.fits import draw_fit, fit_rings
    from chainplan.public.questions.keeping import keep_solved
    from chainplan.public.questions.pricing import check_prices, price_list
    from chainplan.public.questions.quoting import quote_job
    from chainplan.public.questions.weaves import (
        check_weave,
        describe_weave,
        draw_weave,
        draw_weave_chart,
        draw_weaves,
        list_weaves,
    )
    from chainplan.public.recording import progress, record_logs, review, trace
    from chainplan.public.replanning import replan
    from chainplan.public.sharing import share_plan

__version__ = "0.1.0"

__all__ = [
    "ChainplanError",
    "ExaminationError",
    "InputError",
    "Job",
    "Piece",
    "Plan",
    "calibrate",
    "check_folder",
    "check_job",
    "check_order",
    "check_prices",
    "check_weave",
    "compare_rings",
    "count_rings",
    "describe_weave",
    "draw_comparison",
    "draw_fit",
    "draw_weave",
    "draw_weave_chart",
    "draw_weaves",
    "examine_plan",
    "fit_rings",
    "keep_solved",
    "learn",
    "list_weaves",
    "make_plan",
    "plan_tables",
    "preview_designs",
    "price_list",
    "progress",
    "quote_job",
    "read_job",
    "record_logs",
    "replan",
    "review",
    "share_plan",
    "start_job",
    "substitute_rings",
    "trace",
    "what_if",
    "write_calibrated",
    "write_learned",
    "write_plan",
]

_HOME = {
    "ChainplanError": "errors",
    "ExaminationError": "errors",
    "InputError": "errors",
    "Job": "model.job",
    "Piece": "model.job",
    "Plan": "model.plan",
    "calibrate": "public.calibrating",
    "check_weave": "public.questions.weaves",
    "check_prices": "public.questions.pricing",
    "compare_rings": "public.questions.comparing",
    "price_list": "public.questions.pricing",
    "count_rings": "public.counting",
    "describe_weave": "public.questions.weaves",
    "draw_comparison": "public.questions.comparing",
    "draw_fit": "public.questions.fits",
    "draw_weave": "public.questions.weaves",
    "draw_weave_chart": "public.questions.weaves",
    "draw_weaves": "public.questions.weaves",
    "fit_rings": "public.questions.fits",
    "quote_job": "public.questions.quoting",
    "read_job": "public.jobs",
    "check_job": "public.jobs",
    "start_job": "public.jobs",
    "keep_solved": "public.questions.keeping",
    "list_weaves": "public.questions.weaves",
    "learn": "public.learning",
    "preview_designs": "public.questions.designs",
    "progress": "public.recording",
    "record_logs": "public.recording",
    "replan": "public.replanning",
    "review": "public.recording",
    "share_plan": "public.sharing",
    "substitute_rings": "public.questions.asking",
    "trace": "public.recording",
    "what_if": "public.questions.asking",
    "write_calibrated": "public.calibrating",
    "write_learned": "public.learning",
}

__getattr__ = names_on_demand(__name__, {name: _HOME.get(name, "public.plan") for name in __all__})
