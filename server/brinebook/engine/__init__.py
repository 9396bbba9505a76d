"""Numbers in, numbers out: sweat, sodium, roads and bottles. Knows no ids, clock, wire or storage."""
