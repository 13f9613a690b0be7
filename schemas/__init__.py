"""What comes in and what goes out: marshmallow schemas, and the one place of unit conversion."""
