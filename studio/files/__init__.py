"""What is kept and what comes in: the site file, weather, journal and lock. No Qt."""
