"""The piece as it is drawn on a strip: its wire, dots, marks and the axis under it."""
