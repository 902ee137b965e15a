"""Heat: oil, pipes, receivers, the line, and the hourly year of a field."""
