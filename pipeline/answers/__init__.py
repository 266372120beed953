"""One folder a question: the numbers, what runs them, what shows them, the command."""
