"""What a customer reads, in the customer's language: the phrases of the consignment sheet and the price tickets."""
