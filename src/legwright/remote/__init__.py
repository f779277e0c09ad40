"""The wire: messages, server, client, sign-in. See docs/rooms/remote.md and docs/protocol.md."""
