"""A made-up squad and a made-up three-week race."""
