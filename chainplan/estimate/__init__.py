"""What pieces and batch take: wire, settings, gas, tips, time, money and calendar."""

from chainplan.estimate.welder import first_setting

__all__ = ["first_setting"]
