"""Use cases: records to engine, engine to records, and what to compute again when a fact arrives."""
