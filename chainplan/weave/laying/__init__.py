"""From a solved repeat to a whole piece: chains, strips and sheets, sections put end to end."""
