"""One schedule for people and machines: what each person does next, and when it is ready."""

from chainplan.schedule.search import make_schedule
from chainplan.schedule.shop import Shop
from chainplan.schedule.turns import batch_of

__all__ = ["Shop", "batch_of", "make_schedule"]
