"""Tables of stock: lots, movements, species, boards, adhesives and glue-ups."""
