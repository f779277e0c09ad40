"""The wire: messages, server, client."""
