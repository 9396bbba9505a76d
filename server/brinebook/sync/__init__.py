"""The exchange: verdicts after commit, scope, cursor, digest. No HTTP."""
