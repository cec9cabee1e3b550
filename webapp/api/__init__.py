"""The shop's rules as JSON, one file per noun, described by OpenAPI."""
