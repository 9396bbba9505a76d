"""Every literature number, with its unit and source key, one file per topic."""
