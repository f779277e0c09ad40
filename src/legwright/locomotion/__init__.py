"""How it walks: gaits, strides, swing curves, planning. Pure."""
