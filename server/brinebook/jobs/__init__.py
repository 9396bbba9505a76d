"""The in-process queue that recomputes after a commit, and sends wake-ups."""
