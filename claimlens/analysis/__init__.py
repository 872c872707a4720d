"""One module a question: counts from the database, estimates from stats."""
