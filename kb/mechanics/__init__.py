"""Numbers in, numbers out: no database, no file, no printing."""
