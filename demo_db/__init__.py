"""The demo shop: its supplier sheets, drives and jobs."""
