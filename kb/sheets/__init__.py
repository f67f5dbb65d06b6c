"""Reading files into typed objects."""
