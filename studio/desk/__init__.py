"""All Qt: the window, its views and panels. Nothing outside this package knows Qt."""
