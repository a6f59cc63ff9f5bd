"""Relative motion as pure formulas: transition, glide slope, braking, free drift, damping."""
