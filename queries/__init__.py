"""Everything that reads the shelf: a question and its answer, then the command."""
