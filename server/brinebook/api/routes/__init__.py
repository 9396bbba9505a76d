"""The routes, one file per topic."""
