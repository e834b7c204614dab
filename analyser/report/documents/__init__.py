"""The JSON documents and their schemas."""
