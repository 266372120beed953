"""Consignments: what each venue should bring, whom it leaves what, and what to ask."""
