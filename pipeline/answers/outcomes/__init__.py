"""What became of the values, asks and bids that the owner acted on."""
