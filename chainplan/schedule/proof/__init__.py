"""What no schedule can do better, by sums: ways of pieces, hands, the welder, days."""
