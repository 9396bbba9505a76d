"""Rules of the sport that change with the year: dated data, read here and judged by ``engine/plan/race_rules.py``."""
