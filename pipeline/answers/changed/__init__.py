"""What changed: the values of pairs then and now, and what moved them."""
