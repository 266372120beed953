"""What the fitted market says of one pair: the appraisal, its comparables, the fees."""
