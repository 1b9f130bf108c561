"""How the tables came to be, step by step; run by Alembic inside one transaction."""
