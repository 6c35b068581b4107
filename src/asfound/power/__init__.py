"""Site air and rating, load carried, fuel rate, heat balance. Floor 2."""
