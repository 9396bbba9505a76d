"""What to drink: plasma sodium, drinks, gut limits, rehydration and the bottle plan."""
