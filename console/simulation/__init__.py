"""Truth model, guidance, sensors, faults and scenarios."""
