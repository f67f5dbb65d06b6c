"""The commands that write to the shelf."""
