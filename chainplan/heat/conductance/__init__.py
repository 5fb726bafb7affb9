"""How easily heat goes: from wire to air, from ring to ring, and inside a dense weave."""
