"""The version of the code; that of the knowledge is its content hash."""

__version__ = "0.1.0"
