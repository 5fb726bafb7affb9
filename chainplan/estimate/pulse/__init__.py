"""The welder: energy to melt a join, the first setting to try, gas, tips and current."""
