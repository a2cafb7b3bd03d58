"""Small programs that keep the project in order; nothing of the product depends on them."""
