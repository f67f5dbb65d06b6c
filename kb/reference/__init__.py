"""Standard tables, read from the package; every row names its source and how sure it is."""
