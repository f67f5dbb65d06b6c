"""The commands that answer: they only parse options and format what a query returned."""
