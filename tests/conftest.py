"""What all tests share. Databases of both kinds come from tests/databases.py."""

pytest_plugins = ["tests.databases", "tests.demo", "tests.engines", "tests.shops"]
