"""The certificate as others can check it: codes, keys, signed tokens, status lists, badges; pure."""
