"""From power and weather to sweat."""
