"""How items are wired and routed, and the proof that everything wanted reaches its place."""
