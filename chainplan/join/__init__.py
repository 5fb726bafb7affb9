"""Where each join goes: reach of the electrode, faces, and rings closed beforehand."""

from chainplan.join.place import place_joins

__all__ = ["place_joins"]
