"""The market as the records show it: what it did, how busy it was, what each attribute is worth."""
