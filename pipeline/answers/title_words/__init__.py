"""Words of titles."""
