"""What restoring does to a price, and what to restore next."""
