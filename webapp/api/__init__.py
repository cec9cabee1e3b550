"""The shop's rules as JSON: a FastAPI application of its own, a package for each noun, described by OpenAPI."""
