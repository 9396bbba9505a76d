"""Wake-ups: constant sentences, no name, value or count."""
