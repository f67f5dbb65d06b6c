"""The shelf and the trade's arithmetic."""
