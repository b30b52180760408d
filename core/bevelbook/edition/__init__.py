"""A dated copy of a database for others: equal content gives equal bytes, and no more in it than is meant."""
