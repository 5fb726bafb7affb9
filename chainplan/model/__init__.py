"""The frozen results that one stage hands to the next; no stage's work is done here.

Units everywhere: mm, g, s, °C, J, W, radians, litres at 15 °C and 1.01325 bar, money as
``Decimal`` in the job's own currency. Arrays are set read-only by whoever makes them.
"""
