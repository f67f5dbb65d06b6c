"""Everything that writes to the shelf."""
